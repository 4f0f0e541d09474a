"""Text cut by a pattern that its user wrote; google-re2 runs it, so that none takes long, whatever it says."""

import re
from collections.abc import Callable, Mapping
from typing import Protocol

from drivers.errors import ProfileError
from drivers.reading import Message
from drivers.wire.content import Refusal, Texts
from drivers.wire.profile import FieldName, Profile
from drivers.wire.text_fields import TextFields

MOST_SIGNS = 400  # of a pattern
NUMBERS = frozenset({FieldName.COUNTER, FieldName.VALUE, FieldName.ANGLE})
MEMORY = 1 << 16  # bytes that the compiled pattern and its search may take
_NO_CONTROLS = re.compile(rb"[\t -~\x80-\xff]*")


class Found(Protocol):
    """What a pattern found in a message."""

    def group(self, place: int, /) -> bytes | None:
        """Bytes of the group in that place, from 1; None where it took no part."""
        ...

    def span(self, place: int, /) -> tuple[int, int]:
        """Where that group begins and ends; both below zero where it took no part."""
        ...


class Compiled(Protocol):
    """A pattern ready to run."""

    @property
    def groups(self) -> int:
        """How many groups it has, named or not."""
        ...

    @property
    def groupindex(self) -> Mapping[bytes, int]:
        """Each name with the place of its group."""
        ...

    def fullmatch(self, text: bytes, /) -> Found | None:
        """What it finds if all of the text is as it says."""
        ...


def compiled(pattern: str) -> Compiled:
    """The pattern, over bytes as Latin-1. Raises `ProfileError` with google-re2's own reason."""
    import re2  # type: ignore[import-untyped]  # it ships no types

    options = re2.Options()
    options.encoding = re2.Options.Encoding.LATIN1
    options.log_errors = False  # it would write to standard error
    options.max_mem = MEMORY
    try:
        sent = pattern.encode("latin-1")
        found: Compiled = re2.compile(sent, options)
    except UnicodeEncodeError as error:
        raise ProfileError("link.pattern", f"{error.object[error.start]} is no sign of Latin-1") from error
    except re2.error as error:
        raise ProfileError("link.pattern", error.args[0].decode("latin-1")) from error
    return found


class PatternFields(TextFields):
    """Cuts the body of a text message by its pattern, and writes it by its template, if there is one.

    Every group is a field, in the order of the fields.
    """

    __slots__ = ("_after", "_before", "_match")

    def __init__(self, profile: Profile) -> None:
        super().__init__(profile)
        point = re.escape(profile.number.point)
        self._before = re.compile(rb"(?:[0-9]%s?|(?<![0-9A-Za-z])-)\Z" % point)
        self._after = re.compile(rb"%s?[0-9]" % point)
        self._match: Callable[[bytes], Found | None] = compiled(profile.pattern).fullmatch

    def printable(self, body: bytes) -> bool:
        """Whether a body holds nothing but the signs of text; what lies beyond ASCII is the pattern's to say."""
        return _NO_CONTROLS.fullmatch(body) is not None

    def read(self, body: bytes) -> Texts | Refusal:
        """The texts of a body, or why it is none of this profile."""
        found = self._match(body)
        if found is None:
            return "link.pattern-other", ()
        spans = [found.span(place) for place in range(1, len(self._profile.fields) + 1)]
        for field, span in zip(self._profile.fields, spans, strict=True):
            if field.name in NUMBERS and self._is_cut(body, span, spans):
                return "link.number-cut", (field.name.value, body[slice(*span)].decode("latin-1"))
        return self._texts([found.group(place) or b"" for place in range(1, len(self._profile.fields) + 1)])

    def _is_cut(self, body: bytes, span: tuple[int, int], spans: list[tuple[int, int]]) -> bool:
        """Whether a number goes on where no group takes it: `12.50` out of `112.50` is none."""
        start, end = span
        if start >= end:
            return False
        taken = {at for begin, stop in spans if (begin, stop) != span for at in range(begin, stop)}
        before = self._before.search(body[max(0, start - 2) : start])
        after = self._after.match(body, end)
        goes_on = () if before is None else range(start - len(before[0]), start)
        goes_on_to = () if after is None else range(*after.span())
        return not (taken.issuperset(goes_on) and taken.issuperset(goes_on_to))

    def write(self, message: Message) -> bytes:
        """The body that says `message`. Raises `ProfileError` where it cannot be said, or no template says how."""
        template = self._profile.write
        if template is None:
            raise ProfileError("link.pattern-reads-only", self._profile.name)
        parts = {field.name.value: self._part(field, message) for field in self._profile.fields}
        return self._sent(template.format_map(parts), "latin-1")
