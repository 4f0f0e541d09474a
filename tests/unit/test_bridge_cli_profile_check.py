"""A check finds nothing in the built-in profiles, and each kind of fault in one that has it."""

from dataclasses import replace

import pytest

import bridge.cli.profile_check as under_test
from bridge.cli.profile_check import FINDING, NOTE, Checked, check
from drivers.load import builtin_profile, builtin_profiles
from drivers.reading import Message
from drivers.wire.checksums import CHECKSUMS, Checksum
from drivers.wire.profile import Field, FieldName, Profile
from drivers.wire.receive import Receiver


def codes(checked: Checked, severity: str) -> set[str]:
    return {remark.code for remark in checked.remarks if remark.severity == severity}


def with_words(profile: Profile, name: FieldName, *words: tuple[str, str]) -> Profile:
    fields = tuple(replace(field, words=words) if field.name is name else field for field in profile.fields)
    return replace(profile, fields=fields)


@pytest.fixture(autouse=True)
def fewer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Enough to find each fault here."""
    monkeypatch.setattr(under_test, "FUZZED", 300)
    monkeypatch.setattr(under_test, "ROUND_TRIPS", 60)


@pytest.mark.parametrize("name", builtin_profiles())
def test_nothing_is_found_in_a_built_in_profile(name: str) -> None:
    found = check(builtin_profile(name))
    assert found.findings == ()
    assert found.written > 50
    assert all(remark.text() for remark in found.remarks)


def test_a_check_says_the_same_each_time() -> None:
    assert check(builtin_profile("line-comma")) == check(builtin_profile("line-comma"))


def test_a_unit_that_the_table_refuses_is_found() -> None:
    profile = with_words(builtin_profile("packet-crc16"), FieldName.UNIT, ("1", "N.m"), ("2", "furlong"))
    assert codes(check(profile), FINDING) == {"profile.check-unit"}
    fixed = replace(builtin_profile("packet-crc8"), unit="lb")
    assert codes(check(fixed), FINDING) == {"profile.check-unit"}


def test_two_tokens_of_one_unit_are_found() -> None:
    profile = with_words(builtin_profile("packet-crc16"), FieldName.UNIT, ("1", "N.m"), ("2", "Nm"))
    assert codes(check(profile), FINDING) == {"profile.check-unit-twice"}


def test_a_word_that_is_another_unit_by_itself_is_found() -> None:
    line = builtin_profile("line-basic")
    for words in ((("N.m", "ft.lb"), ("ft.lb", "N.m")), (("Nm", "cN.m"),)):
        assert codes(check(with_words(line, FieldName.UNIT, *words)), FINDING) == {"profile.check-unit-other"}
    # Another spelling of the same unit is none, nor is a code, nor what the table does not know.
    fair = with_words(line, FieldName.UNIT, ("Nm", "N.m"), ("3", "ft.lb"), ("LBIN", "in.lb"))
    assert codes(check(fair), FINDING) == set()


def test_a_fixed_unit_beside_a_field_that_may_say_another_is_a_note() -> None:
    fields = (Field(FieldName.VALUE), Field(FieldName.SKIP))
    fixed = replace(builtin_profile("line-basic"), fields=fields, check=None, unit="N.m")
    assert "profile.check-unit-beside" in codes(check(fixed), NOTE)
    assert "profile.check-unit-beside" not in codes(check(replace(fixed, unit=None)), NOTE)
    assert "profile.check-unit-beside" not in codes(check(replace(fixed, fields=fields[:1])), NOTE)


def test_what_a_profile_lacks_is_a_note() -> None:
    line = builtin_profile("line-basic")
    bare = replace(line, fields=(Field(FieldName.VALUE),), check=None)
    assert codes(check(bare), FINDING) == set()
    lacks = ("checksum", "counter", "direction", "serial", "unit")
    assert {f"profile.check-no-{what}" for what in lacks} <= codes(check(bare), NOTE)
    assert not {f"profile.check-no-{what}" for what in lacks} & codes(check(line), NOTE)


def test_a_checksum_that_notices_nothing_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    blind = Checksum("blind", 8, lambda _: 0x41)
    monkeypatch.setitem(CHECKSUMS, "blind", blind)
    line = builtin_profile("frame-lrc")
    assert line.check is not None
    profile = replace(line, check=replace(line.check, kind="blind"))
    # Read again it would be no known kind, so only the fuzz is asked here.
    said, _ = _said(line)
    items = [Receiver(profile, synced=True).feed(_again(profile, message)) for message in said[:3]]
    written = [item for found in items for item in found if isinstance(item, Message)]
    assert len(written) == 3
    assert [remark.code for remark in under_test._flipped(profile, written[0])] == ["profile.check-flip"]
    assert list(under_test._flipped(line, said[0])) == []


def test_a_value_that_the_bytes_do_not_hold_is_found() -> None:
    line = builtin_profile("line-basic")
    said, _ = _said(line)
    assert under_test._literal(line, said[0].raw, said[0])
    assert not under_test._literal(line, said[0].raw, said[0]._replace(value="98765.4"))
    packet = builtin_profile("packet-crc8")
    sent, _ = _said(packet)
    assert under_test._literal(packet, sent[0].raw, sent[0])
    assert not under_test._literal(packet, sent[0].raw, sent[0]._replace(value="77.77"))


@pytest.mark.parametrize(("name", "other"), [("declared-value", "12.75"), ("notify-record", "77.777")])
def test_numbers_of_other_formats_and_of_joined_packets_are_looked_for_in_their_bits(name: str, other: str) -> None:
    profile = builtin_profile(name)
    said, _ = _said(profile)
    assert all(under_test._literal(profile, each.raw, each) for each in said)
    assert not under_test._literal(profile, said[0].raw, said[0]._replace(value=other))


def _said(profile: Profile) -> tuple[list[Message], object]:
    return under_test._round_trip(profile)


def _again(profile: Profile, message: Message) -> bytes:
    from drivers.wire.encode import framed

    assert profile.check is not None
    return framed(profile, message.raw[1:-2])
