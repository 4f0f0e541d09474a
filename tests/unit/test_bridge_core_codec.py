"""Event bodies as JSON: a field that a kind was given later changes nothing that was written before."""

from decimal import Decimal

import pytest

from bridge.core.codec import BodyError, from_plain, to_plain
from bridge.core.events import Binding, CertificatePoint, JobStarted
from bridge.trail.canonical import canonical_text
from bridge.trail.shape import body_text, built_body, check_body


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


@pytest.mark.parametrize("points", [(), (CertificatePoint("20 ft·lb", "2"),)])
def test_the_trail_writes_and_checks_it_the_same_way(points: tuple[CertificatePoint, ...]) -> None:
    body = started(*points)
    text = body_text(body)
    assert text == canonical_text(to_plain(body))
    check_body("job started", text)
    assert built_body("job started", text) == body


def test_a_default_that_was_written_out_is_refused() -> None:
    text = body_text(started()).replace('"profile"', '"points":[],"profile"')
    with pytest.raises(BodyError):
        check_body("job started", text)
