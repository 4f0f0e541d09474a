"""Event bodies as JSON: a field that a kind was given later changes nothing that was written before."""

from decimal import Decimal

from bridge.core.codec import from_plain, to_plain
from bridge.core.events import Binding, CertificatePoint, JobStarted


def started(*points: CertificatePoint) -> JobStarted:
    binding = Binding("W1", "W1", "A1023", "line-basic", "/dev/ttyUSB0", points=points)
    return JobStarted("digest", "P-2", ("Orla Venn",), (binding,), "live", Decimal(0))


def test_a_field_added_later_is_not_written_at_its_default() -> None:
    plain = to_plain(started())
    assert "points" not in plain["bindings"][0]
    assert plain["bindings"][0]["unit"] is None  # the control: what was always there is
    assert from_plain("job started", plain) == started()


def test_a_field_added_later_is_kept() -> None:
    body = started(CertificatePoint("20 ft·lb", "2"))
    plain = to_plain(body)
    assert plain["bindings"][0]["points"] == [{"at": "20 ft·lb", "uncertainty_percent": "2"}]
    assert from_plain("job started", plain) == body
