"""`witnessmark wrench`: the instruments of this bench, their certificates, quarantine and checks."""

import json
from collections.abc import Callable, Iterator
from dataclasses import asdict
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from pathlib import Path

import click

from bridge import words
from bridge.cli.people import trail_of
from bridge.cli.proof_line import proof_line
from bridge.cli.stopping import run_loop
from bridge.core.events import Body, CertificatePoint, Reason, WrenchAdded, WrenchChecked, WrenchQuarantined
from bridge.core.events_links import PROOFS
from bridge.core.registry import Registry
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE, BadInput
from specs import units

TRAIL = click.option("--trail", help=words.say("bench.option-trail"))
JSON = click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))


@click.group("wrench", help=words.say("bench.command-wrench"))
def wrench() -> None:
    """The group itself does nothing."""


@wrench.command("add", help=words.say("bench.command-wrench-add"))
@click.argument("serial", metavar="SERIAL")
@click.option("--title", required=True, help=words.say("bench.option-title"))
@click.option("--unit", required=True, help=words.say("bench.option-unit"))
@click.option("--range", "ends", nargs=2, metavar="LOW HIGH", help=words.say("bench.option-range"))
@click.option("--profile", required=True, help=words.say("bench.option-profile"))
@click.option("--certificate", help=words.say("bench.option-certificate"))
@click.option("--date", "certified_on", help=words.say("bench.option-date"))
@click.option("--due", "due_on", help=words.say("bench.option-due"))
@click.option("--point", "points", multiple=True, metavar="TORQUE=PERCENT", help=words.say("bench.option-point"))
@click.option("--by", "person", help=words.say("bench.option-by"))
@TRAIL
def add(
    serial: str,
    title: str,
    unit: str,
    ends: tuple[str, str] | None,
    profile: str,
    certificate: str | None,
    certified_on: str | None,
    due_on: str | None,
    points: tuple[str, ...],
    person: str | None,
    trail: str | None,
) -> int:
    """A later entry of the same serial no. replaces the one before. Raises `BadInput`, `DriverError`."""
    from bridge.service.profiles import kept

    known, text = kept(profile)
    _refuse_unprintable(serial, "bench.serial-empty")
    _refuse_unprintable(title, "register.title-empty")
    if certificate is not None:
        _refuse_unprintable(certificate, "register.certificate-empty")
    low, high = (_torque(end) for end in ends) if ends is not None else (None, None)
    if low is not None and high is not None and low[1] > high[1]:
        raise BadInput("bench.range-reversed", low[0], high[0])
    if low is not None and high is not None and low[1] == high[1]:
        raise BadInput("register.range-empty", low[0])
    day, due = _day(certified_on), _day(due_on)
    if day is not None and due is not None and due <= day:
        raise BadInput("register.due-before", due, day)
    body = WrenchAdded(
        serial.strip(),
        title.strip(),
        units.canonical(unit),
        None if low is None else low[0],
        None if high is None else high[0],
        known,
        None if certificate is None else certificate.strip(),
        day,
        due,
        _points(points),
        text,
    )
    _record(trail, lambda _: body, person)
    click.echo(words.say("bench.wrench-added", body.serial, body.title))
    return NOTHING_TO_DECIDE


@wrench.command("list", help=words.say("bench.command-wrench-list"))
@JSON
@TRAIL
def list_(as_json: bool, trail: str | None) -> int:
    """One line a wrench; exit code 1 where one is quarantined."""
    registry = _registered(trail)
    for each in registry.wrenches.values():
        click.echo(json.dumps(_plain(registry, each), ensure_ascii=False) if as_json else _line(registry, each))
    if not registry.wrenches and not as_json:
        click.echo(words.say("bench.no-wrench"))
    return FINDINGS if registry.quarantined.keys() & registry.wrenches.keys() else NOTHING_TO_DECIDE


@wrench.command("show", help=words.say("bench.command-wrench-show"))
@click.argument("serial", metavar="SERIAL")
@JSON
@TRAIL
def show(serial: str, as_json: bool, trail: str | None) -> int:
    """Exit code 1 for a quarantined wrench and one of which something is not proven."""
    registry = _registered(trail)
    found = _known(registry, serial)
    if as_json:
        click.echo(json.dumps(_plain(registry, found), ensure_ascii=False, indent=2))
    else:
        click.echo(_line(registry, found))
        click.echo(words.say("bench.wrench-profile", found.profile))
        for point in found.points:
            click.echo(words.say("bench.wrench-point", point.at, point.uncertainty_percent))
        for line in _proofs(registry, serial):
            click.echo(line)
    refuted = any(proof.body.result == "not proven" for (of, _), proof in registry.proofs.items() if of == serial)
    return FINDINGS if refuted or serial in registry.quarantined else NOTHING_TO_DECIDE


@wrench.command("quarantine", help=words.say("bench.command-wrench-quarantine"))
@click.argument("serial", metavar="SERIAL")
@click.option("--reason", required=True, help=words.say("bench.option-reason"))
@click.option("--by", "person", required=True, help=words.say("bench.option-by"))
@TRAIL
def quarantine(serial: str, reason: str, person: str, trail: str | None) -> int:
    """Raises `BadInput` for an unknown wrench or person."""
    _refuse_unsaid(reason)

    def made(registry: Registry) -> Body:
        return WrenchQuarantined(_known(registry, serial).serial, Reason("bench.said", (reason.strip(),)))

    _record(trail, made, person)
    click.echo(words.say("bench.wrench-set-aside", serial, reason.strip()))
    return NOTHING_TO_DECIDE


@wrench.command("check", help=words.say("bench.command-wrench-check"))
@click.argument("serial", metavar="SERIAL")
@click.option("--note", required=True, help=words.say("bench.option-note"))
@click.option("--by", "person", required=True, help=words.say("bench.option-by"))
@TRAIL
def check(serial: str, note: str, person: str, trail: str | None) -> int:
    """Raises `BadInput` for an unknown wrench or person."""
    _refuse_unsaid(note)
    _record(trail, lambda registry: WrenchChecked(_known(registry, serial).serial, note.strip()), person)
    click.echo(words.say("bench.wrench-checked", serial, person))
    return NOTHING_TO_DECIDE


@wrench.command("listen", help=words.say("listen.command"))
@click.argument("port", metavar="PORT")
@click.option("--settings", help=words.say("listen.option-settings"))
@click.option("--profile", help=words.say("listen.option-profile"))
@click.option("--values", metavar="UUID", help=words.say("listen.option-values"))
@click.option("--serial", help=words.say("listen.option-serial"))
@click.option("--record", type=click.Path(path_type=Path), metavar="FILE", help=words.say("listen.option-record"))
@click.option("--for", "for_s", metavar="SECONDS", help=words.say("listen.option-for"))
@click.option("--lines", type=click.IntRange(min=1), metavar="N", help=words.say("listen.option-lines"))
@click.option("--gap", default="0.2", metavar="SECONDS", show_default=True, help=words.say("listen.option-gap"))
@click.option("--quiet", default="10", metavar="SECONDS", show_default=True, help=words.say("listen.option-quiet"))
@JSON
def listen(
    port: str,
    settings: str | None,
    profile: str | None,
    values: str | None,
    serial: str | None,
    record: Path | None,
    for_s: str | None,
    lines: int | None,
    gap: str,
    quiet: str,
    as_json: bool,
) -> int:
    """Raises `BadInput`, `DriverError`; `LinkError` where the port cannot be opened at first."""
    from bridge.cli.listen_job import Wanted, run, seconds
    from bridge.cli.listen_radio import notified_values, show_radio
    from bridge.trail.clock import SystemClock
    from drivers.links.named import is_radio, link_for
    from drivers.links.settings import USUAL, parse_settings
    from drivers.registry import profile as known_profile

    if serial is not None:
        _refuse_unprintable(serial, "bench.serial-empty")
    set_to = None if settings is None else parse_settings(settings)
    known = None if profile is None else known_profile(profile)
    listen_s = None if for_s is None else seconds(for_s)
    notified = None if values is None else notified_values(port, values)
    if is_radio(port) and known is None and notified is None and set_to is None:
        if record is not None:
            raise BadInput("listen.radio-record", port)
        return run_loop(show_radio(port, listen_s, as_json))
    wanted = Wanted(
        settings=None if is_radio(port) else str(set_to or USUAL),
        quiet_s=seconds(gap),
        silence_s=seconds(quiet),
        profile=known,
        profile_name=profile,
        serial=serial,
        record=record,
        for_s=listen_s,
        lines=lines,
        as_json=as_json,
    )
    return run_loop(run(wanted, link_for(port, known, set_to, radio=notified), SystemClock()))


@wrench.command("learn", help=words.say("profile.command-learn"))
@click.argument("capture", type=click.Path(path_type=Path), metavar="CAPTURE")
@click.option("--shown", multiple=True, metavar="VALUE[ UNIT][ CCW][ #N]", help=words.say("profile.option-shown"))
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE.toml", help=words.say("profile.option-out"))
@click.option("--name", help=words.say("profile.option-name"))
@click.option("--wrench", "lane", metavar="W1", help=words.say("profile.option-lane"))
@click.option("--only-unit", metavar="UNIT", help=words.say("profile.option-only-unit"))
@click.option("--most", metavar="NUMBER", help=words.say("profile.option-most"))
@JSON
def learn(
    capture: Path,
    shown: tuple[str, ...],
    out: Path | None,
    name: str | None,
    lane: str | None,
    only_unit: str | None,
    most: str | None,
    as_json: bool,
) -> int:
    """Exit code 1 where nothing is proposed. Raises `BadInput`, `DriverError`."""
    from bridge.cli.learn_job import Wanted, run

    return run(Wanted(capture, shown, out, name, lane, only_unit, most, as_json))


@wrench.command("prove", help=f"{words.say('proving.command')}\n\n{words.say('proving.argument')}")
@click.argument("named", metavar="SERIAL@PORT")
@click.option("--settings", help=words.say("listen.option-settings"))
@click.option("--by", "person", help=words.say("proving.option-by"))
@TRAIL
def prove(named: str, settings: str | None, person: str | None, trail: str | None) -> int:
    """Exit code 1 where something is not proven. Raises `BadInput`, `DriverError`, `TrailTrouble`."""
    from bridge.cli.prove_job import Wanted, run
    from drivers.links.settings import parse_settings

    serial, at, place = named.partition("@")
    if not (at and serial.strip() and place.strip()):
        raise BadInput("proving.form", named)
    set_to = None if settings is None else parse_settings(settings)
    return run_loop(run(Wanted(trail_of(trail), serial.strip(), place.strip(), set_to, person)))


def _record(trail: str | None, made: Callable[[Registry], Body], person: str | None) -> None:
    from importlib.metadata import version

    from bridge.service.registering import register

    run_loop(register(trail_of(trail), version("witnessmark"), made, person))


def _registered(trail: str | None) -> Registry:
    from bridge.service.registering import registered

    return registered(trail_of(trail))


def _known(registry: Registry, serial: str) -> WrenchAdded:
    found = registry.wrenches.get(serial)
    if found is None:
        raise BadInput("bench.wrench-unknown", serial)
    return found


def _refuse_unprintable(text: str, code: str) -> None:
    if not text.strip() or not text.isprintable():
        raise BadInput(code)


def _refuse_unsaid(text: str) -> None:
    if not text.strip():
        raise BadInput("bench.reason-missing")
    _refuse_unprintable(text, "register.text-unprintable")


def _torque(text: str) -> tuple[str, Fraction]:
    """As the trail writes it, and in N·m to compare."""
    number, _, unit = text.strip().partition(" ")
    if not unit:
        raise BadInput("bench.bad-torque", text)
    try:
        value, token = Decimal(number), units.canonical(unit)
        nm = units.newton_metres(value, token)
    except (InvalidOperation, ValueError) as error:
        raise BadInput("bench.bad-torque", text) from error
    if value <= 0:
        raise BadInput("bench.bad-torque", text)
    return f"{value:f} {token}", nm


def _day(text: str | None) -> str | None:
    try:
        return None if text is None else date.fromisoformat(text).isoformat()
    except ValueError as error:
        raise BadInput("bench.bad-date", text or "") from error


def _points(texts: tuple[str, ...]) -> tuple[CertificatePoint, ...]:
    found: dict[Fraction, CertificatePoint] = {}
    for text in texts:
        at, point = _point(text)
        if at in found:
            raise BadInput("register.point-twice", point.at)
        found[at] = point
    return tuple(found.values())


def _point(text: str) -> tuple[Fraction, CertificatePoint]:
    at, _, percent = text.partition("=")
    try:
        share = Decimal(percent.strip().removesuffix("%").strip())
    except InvalidOperation as error:
        raise BadInput("bench.bad-point", text) from error
    if not share.is_finite() or share <= 0:
        raise BadInput("bench.bad-point", text)
    written, nm = _torque(at)
    return nm, CertificatePoint(written, f"{share:f}")


def _plain(registry: Registry, found: WrenchAdded) -> dict[str, object]:
    why = registry.quarantined.get(found.serial)
    proofs = {
        what: {
            "result": proof.body.result,
            "how": proof.body.how,
            "utc": proof.utc,
            "person": proof.person,
            "why": words.say(proof.body.code, *proof.body.args),
        }
        for (serial, what), proof in registry.proofs.items()
        if serial == found.serial
    }
    quarantined = None if why is None else words.say(why.code, *why.args)
    return {**asdict(found), "quarantined": quarantined, "proofs": proofs}


def _proofs(registry: Registry, serial: str) -> Iterator[str]:
    """What was proven of it last, when and by whom; of what is proven at its link also that it never was."""
    for what in PROOFS:
        proof = registry.proofs.get((serial, what))
        if proof is not None:
            when = proof.utc[:16].replace("T", " ")
            yield words.say("proving.shown", proof_line(proof.body), when, proof.person or "–")
        elif what in ("identity", "unit", "zero"):
            yield words.say("proving.never", words.say(f"proving.what-{what}"), serial)


def _line(registry: Registry, found: WrenchAdded) -> str:
    ends = f"{found.low or '–'} … {found.high or '–'}"
    due = found.due_on or words.say("bench.no-due")
    line = words.say("bench.wrench-line", found.serial, found.title, found.unit, ends, found.certificate or "–", due)
    why = registry.quarantined.get(found.serial)
    return line if why is None else f"{line}  {words.say('bench.wrench-in-quarantine', words.say(why.code, *why.args))}"
