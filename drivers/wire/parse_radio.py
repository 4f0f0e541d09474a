"""Reads the table `[radio]` of a profile, strictly."""

from drivers.errors import ProfileError
from drivers.wire.profile import FieldName, Profile
from drivers.wire.radio import Adverts, Notified, Radio, identifier
from drivers.wire.table import Table, wrong

_FORMAT_BYTES = 7  # of a presentation format (Bluetooth Core, vol. 3 part G 3.3.3.5)
_IDENTIFIER = "an identifier of 32 hex digits with hyphens, or of four"


def read_radio(table: Table) -> Radio:
    """Where a wrench's messages are. Raises `ProfileError`."""
    radio = _adverts(table.table("adverts")) if table.holds("adverts") else _notified(table)
    table.finish()
    return radio


def agree_radio(profile: Profile) -> None:
    """Raises `ProfileError` where advertisements cannot tell one pull from the next."""
    counter = profile.field(FieldName.COUNTER)
    # An advertisement is sent many times; without a counter in each, a second equal pull would look like one of them.
    if isinstance(profile.radio, Adverts) and (counter is None or counter.empty or counter.optional):
        raise ProfileError("link.profile-missing", "fields", "a counter in every message, for `radio.adverts`")


def _notified(table: Table) -> Notified:
    return Notified(
        _identifier(table, "values"),
        _identifier(table, "orders") if table.holds("orders") else None,
        table.flag("pair"),
        _declared(table) if table.holds("declares") else None,
        _identifier(table, "service") if table.holds("service") else None,
    )


def _adverts(table: Table) -> Adverts:
    if table.holds("company") and table.holds("service"):
        raise wrong(table.path("service"), table.text("service"), "a company or a service, not both")
    if table.holds("service"):
        found = Adverts(service=_identifier(table, "service"))
    else:
        found = Adverts(company=table.number("company", low=0, high=0xFFFF))
    table.finish()
    return found


def _identifier(table: Table, key: str) -> str:
    text = table.text(key)
    found = identifier(text)
    if found is None:
        raise wrong(table.path(key), repr(text), _IDENTIFIER)
    return found


def _declared(table: Table) -> bytes:
    text = table.text("declares")
    try:
        found = bytes.fromhex(text)
    except ValueError:
        found = b""
    if len(found) != _FORMAT_BYTES:
        raise wrong(table.path("declares"), repr(text), f"the {_FORMAT_BYTES} bytes of its format in hex")
    return found
