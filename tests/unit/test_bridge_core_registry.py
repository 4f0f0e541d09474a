"""People and wrenches folded from events."""

from decimal import Decimal

from bridge.core.events import (
    Body,
    Event,
    PersonAdded,
    Reason,
    Stored,
    Tick,
    WrenchAdded,
    WrenchChecked,
    WrenchQuarantined,
)
from bridge.core.events_links import WrenchProven
from bridge.core.registry import Registry

WRENCH = WrenchAdded("A1023", "large", "ft·lb", "15 ft·lb", "150 ft·lb", "line-basic")


def folded(*bodies: Body) -> Registry:
    registry = Registry()
    for seq, body in enumerate(bodies, start=1):
        registry = registry.fold(Stored(seq, f"e{seq}", "", "0", "", Event(body), ""))
    return registry


def test_the_latest_of_each_counts() -> None:
    later = WrenchAdded("A1023", "large, calibrated", "ft·lb", None, None, "line-basic", "K-2")
    registry = folded(
        PersonAdded("Orla Venn", ("fitter",)), WRENCH, PersonAdded("Orla Venn", ("fitter", "inspector")), later
    )
    assert registry.wrenches == {"A1023": later}
    assert registry.has_role("Orla Venn", "inspector")
    assert not registry.has_role("Orla Venn", "authority")
    assert not registry.has_role("Tam Birk", "fitter")


def test_quarantine_lasts_until_a_check() -> None:
    why = Reason("bench.dropped")
    registry = folded(WRENCH, WrenchQuarantined("A1023", why), WRENCH, WrenchChecked("B0417", ""))
    assert registry.quarantined == {"A1023": why}  # neither a new entry nor another wrench's check ends it
    assert not folded(WRENCH, WrenchQuarantined("A1023", why), WrenchChecked("A1023", "")).quarantined


def test_other_events_change_nothing_and_an_old_registry_stays() -> None:
    before = folded(WRENCH)
    stored = Stored(2, "e2", "", "0", "", Event(Tick(Decimal(1))), "")
    assert before.fold(stored) is before
    before.fold(Stored(3, "e3", "", "0", "", Event(WrenchQuarantined("A1023", Reason("bench.dropped"))), ""))
    assert not before.quarantined


def test_the_last_proof_of_each_thing_counts() -> None:
    zero = WrenchProven("A1023", "port", "zero", "display", "proven", "proving.zero-display", ("0.0",))
    off = WrenchProven("A1023", "port", "zero", "display", "not proven", "proving.zero-off", ("0.4",))
    unit = WrenchProven("A1023", "port", "unit", "message", "proven", "proving.unit-message", ("ft·lb",))
    registry = folded(WRENCH, off, zero, unit)
    assert {key: proof.body for key, proof in registry.proofs.items()} == {
        ("A1023", "zero"): zero,
        ("A1023", "unit"): unit,
    }
    assert folded(zero, off).proofs["A1023", "zero"].body == off
