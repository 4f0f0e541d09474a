"""Figures judge assignment from outside: the room may not know how it is reasoned, nor borrow its constants."""

import pytest

MAY_USE = {"bridge.core.commands", "bridge.core.events", "bridge.core.job"}  # what it takes to work a job


def prying(imports: dict[str, set[str]]) -> list[str]:
    """What modules of the room import of the core beyond that, as `importer -> imported`."""
    return [
        f"{name} -> {other}"
        for name, others in imports.items()
        for other in sorted(others - MAY_USE)
        if name.startswith("bridge.figures.") and other.startswith("bridge.core.")
    ]


def test_figures_do_not_know_how_assignment_is_reasoned(imports: dict[str, set[str]]) -> None:
    """Only the job and its events."""
    assert prying(imports) == []
    assert any(name.startswith("bridge.figures.") for name in imports)


@pytest.mark.parametrize("module", ["costs", "routes", "align", "lattice", "states"])
def test_control_a_look_inside_is_found(module: str) -> None:
    """The control: an import of any other module of the core is seen; one of the job is none."""
    wrong = f"bridge.core.{module}"
    assert prying({"bridge.figures.story": {wrong, "bridge.core.job"}}) == [f"bridge.figures.story -> {wrong}"]
    assert prying({"bridge.audit.findings": {wrong}}) == []


def borrowed(imports: dict[str, set[str]]) -> list[str]:
    """What the made-up formats import of the drivers, as `importer -> imported`."""
    return [
        f"{name} -> {other}"
        for name, others in imports.items()
        for other in sorted(others)
        if name.startswith("bridge.figures.formats") and other.startswith("drivers")
    ]


def test_made_up_formats_import_nothing_of_the_drivers(imports: dict[str, set[str]]) -> None:
    """Neither how a profile is learnt, nor our encoder, nor our checksums."""
    assert borrowed(imports) == []
    assert {"bridge.figures.formats", "bridge.figures.formats_kinds", "bridge.figures.formats_wire"} <= imports.keys()


@pytest.mark.parametrize("module", ["learn", "learn_check", "encode", "checksums"])
def test_control_a_format_that_borrows_is_found(module: str) -> None:
    """The control: an import of what learns or writes is seen, one by another file of the room is none."""
    wrong = f"drivers.wire.{module}"
    assert borrowed({"bridge.figures.formats_wire": {wrong}}) == [f"bridge.figures.formats_wire -> {wrong}"]
    assert borrowed({"bridge.figures.learning": {wrong}}) == []
