"""Learns a profile from a capture and what a person read off the display, proves it, and only then writes it."""

import json
import re
import sys
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path

import click

from bridge.cli.listen_record import NOT_NAMED
from bridge.cli.profile_check import check
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE, BadInput
from bridge.words import say
from drivers.capture import Bytes, LinkEntry
from drivers.load import load_capture
from drivers.wire.learn import Learnt, agrees, learn
from drivers.wire.learn_shown import Asked, NotLearnt, Shown, Told, parse_shown
from drivers.wire.parse import parse_profile
from drivers.wire.write import write
from specs.errors import SpecError
from specs.units import canonical, nearest

_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
_NOT_IN_NAME = re.compile(r"[^a-z0-9]+")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the command line asks for."""

    capture: Path
    shown: tuple[str, ...]
    out: Path | None = None
    name: str | None = None
    lane: str | None = None
    only_unit: str | None = None
    most: str | None = None
    as_json: bool = False


@dataclass(frozen=True, slots=True)
class _Heard:
    runs: tuple[bytes, ...]
    serial: str | None


def run(wanted: Wanted) -> int:
    """Exit code 1 where nothing is proposed. Raises `BadInput`, `CaptureError`, `DriverError`, `ProfileError`."""
    if wanted.out is not None:
        _refuse_out(wanted.out)
    name = _name(wanted)
    heard = _heard(wanted)
    asked = Asked(_shown(wanted), resolve, heard.serial, _only_unit(wanted.only_unit), _most(wanted.most))
    try:
        learnt = learn(heard.runs, asked, name=name, title=say("profile.learnt-title", wanted.capture.name))
        text = _proved(learnt, heard, asked)
    except NotLearnt as error:
        sentence = say(error.code, *error.words)
        refused = {"refused": {"code": error.code, "text": sentence}}
        click.echo(json.dumps(refused, ensure_ascii=False) if wanted.as_json else say("profile.refused", sentence))
        return FINDINGS
    if wanted.out is not None:
        _write(wanted.out, text)
    if wanted.as_json:
        click.echo(json.dumps(_keys(learnt, text, wanted.out), ensure_ascii=False))
        return NOTHING_TO_DECIDE
    aside = wanted.out is None  # the profile itself then goes to standard output
    click.echo(say("profile.learnt", str(learnt.messages)), err=aside)
    for told in learnt.told:
        click.echo(f"  {_sentence(told)}", err=aside)
    click.echo(text if wanted.out is None else say("profile.written", str(wanted.out)), nl=wanted.out is not None)
    return NOTHING_TO_DECIDE


def resolve(token: str) -> str | None:
    """The canonical unit of a token; None for what is none."""
    try:
        return canonical(token)
    except SpecError:
        return None


def _proved(learnt: Learnt, heard: _Heard, asked: Asked) -> str:
    """The text of the profile, read again and proved. Raises `NotLearnt`."""
    notes: dict[str, str] = {}
    for told in learnt.told:
        if told.table:
            notes[told.table] = f"{notes[told.table]} {_sentence(told)}" if told.table in notes else _sentence(told)
    text = write(learnt.profile, notes)
    profile = parse_profile(text)
    findings = check(profile).findings
    if findings:
        raise NotLearnt(9, "profile.unproved", findings[0].text())
    if profile != learnt.profile or not agrees(profile, heard.runs, asked):
        raise NotLearnt(9, "profile.reads-otherwise")
    return text


def _sentence(told: Told) -> str:
    return say(f"profile.sure-{told.sure}", say(told.code, *told.args))


def _keys(learnt: Learnt, text: str, out: Path | None) -> dict[str, object]:
    told = [
        {"sure": each.sure.value, "code": each.code, "table": each.table or None, "text": say(each.code, *each.args)}
        for each in learnt.told
    ]
    written = None if out is None else str(out)
    return {
        "name": learnt.profile.name,
        "messages": learnt.messages,
        "told": told,
        "profile": text,
        "written": written,
    }


def _heard(wanted: Wanted) -> _Heard:
    capture = load_capture(wanted.capture)
    lanes = tuple(capture.wrenches)
    if wanted.lane is not None and wanted.lane not in lanes:
        raise BadInput("profile.lane-unknown", wanted.lane, ", ".join(lanes))
    if wanted.lane is None and len(lanes) > 1:
        raise BadInput("profile.lane-which", ", ".join(lanes))
    lane = wanted.lane or lanes[0]
    runs = [bytearray()]
    for entry in capture.entries:
        match entry:
            case Bytes(_, from_, data) if from_ == lane:
                runs[-1] += data
            case LinkEntry(_, from_, _) if from_ == lane and runs[-1]:
                runs.append(bytearray())
    serial = capture.wrenches[lane].serial
    return _Heard(tuple(map(bytes, runs)), None if serial == NOT_NAMED else serial)


def _shown(wanted: Wanted) -> tuple[Shown, ...]:
    texts = list(wanted.shown)
    if not texts and not wanted.as_json and sys.stdin.isatty():
        while text := click.prompt(say("profile.ask-shown", str(len(texts) + 1)), default="", show_default=False):
            parse_shown(text, resolve)
            texts.append(text)
    if not texts:
        raise BadInput("profile.no-shown")
    return tuple(parse_shown(text, resolve) for text in texts)


def _only_unit(text: str | None) -> str | None:
    if text is None:
        return None
    unit = resolve(text)
    if unit is None:
        raise BadInput("profile.unit-unknown", text, *nearest(text))
    return unit


def _most(text: str | None) -> Decimal | None:
    if text is None:
        return None
    try:
        most = Decimal(text.replace(",", "."))
    except InvalidOperation as error:
        raise BadInput("profile.most-form", text) from error
    if not most.is_finite() or not 0 < most < 10**9:
        raise BadInput("profile.most-form", text)
    return most


def _name(wanted: Wanted) -> str:
    if wanted.name is not None:
        if _NAME.fullmatch(wanted.name) is None:
            raise BadInput("profile.name-form", wanted.name)
        return wanted.name
    stem = "" if wanted.out is None else _NOT_IN_NAME.sub("-", wanted.out.stem.lower()).strip("-")[:40]
    return stem or "learnt"


def _refuse_out(out: Path) -> None:
    if out.suffix != ".toml":
        raise BadInput("profile.out-form", str(out))
    if out.exists() or out.is_symlink():
        raise BadInput("profile.out-exists", str(out))


def _write(out: Path, text: str) -> None:
    try:
        with out.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError as error:
        raise BadInput("profile.out-exists", str(out)) from error
    except OSError as error:
        raise BadInput("profile.out-stopped", str(out), error.strerror or str(error)) from error
