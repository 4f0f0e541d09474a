"""`witnessmark devices`: ports and radio devices that may be wrenches, told without opening or connecting one."""

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bridge import words
from bridge.errors import NOTHING_TO_DECIDE, BadInput, DeviceTrouble

RADIO_S = "5"
_LONGEST_S = 600

if TYPE_CHECKING:
    from drivers.links.listing import PortSeen


@click.command("devices", help=words.say("devices.command"))
@click.option("--names", type=click.Path(path_type=Path), metavar="FOLDER", help=words.say("devices.option-names"))
@click.option(
    "--radio", is_flag=False, flag_value=RADIO_S, metavar="[SECONDS]", help=words.say("devices.option-radio", RADIO_S)
)
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def devices(names: Path | None, radio: str | None, as_json: bool) -> int:
    """No port and no device at all is an answer too, not a fault; a radio that cannot be asked ends with 3."""
    from bridge.cli.devices_radio import look
    from drivers.links.listing import BY_ID, ports

    seconds = None if radio is None else _seconds(radio)
    found = ports(names or BY_ID)
    heard = None if seconds is None else look(seconds)
    code = DeviceTrouble.exit_code if heard is not None and heard.trouble is not None else NOTHING_TO_DECIDE
    if as_json:
        ble = {"looked_at": False, "found": []} if heard is None else heard.plain()
        click.echo(json.dumps({"serial": [_plain(port) for port in found], "ble": ble}, ensure_ascii=False))
        return code
    for port in found:
        click.echo(words.say("devices.line", port.name, words.say(f"devices.kind-{port.kind.value}")))
        for line in _lines(port):
            click.echo(f"    {line}")
    if not found:
        click.echo(words.say("devices.none"))
    for line in [words.say("devices.ble-not-looked-at")] if heard is None else heard.lines():
        click.echo(line)
    return code


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0
    if not 0 < seconds <= _LONGEST_S:
        raise BadInput("devices.radio-form", text, str(_LONGEST_S))
    return seconds


def _lines(port: "PortSeen") -> list[str]:
    lines = []
    if port.device != port.name:
        lines.append(words.say("devices.device", port.device))
    lines += [words.say("devices.also", name) for name in port.names[1:]]
    if port.description is not None:
        lines.append(words.say("devices.described", port.description))
    if port.usb is not None:
        lines.append(words.say("devices.usb", f"{port.usb.vendor:04x}", f"{port.usb.product:04x}"))
        texts = [text for text in (port.usb.maker, port.usb.title, port.usb.serial) if text is not None]
        if texts:
            lines.append(words.say("devices.usb-texts", ", ".join(texts)))
    return [*lines, _use(port), _right(port)]


def _use(port: "PortSeen") -> str:
    match port.holders.busy:
        case True:
            return words.say("devices.busy", ", ".join(port.holders.programs))
        case False:
            return words.say("devices.free")
    return words.say("devices.use-unknown")


def _right(port: "PortSeen") -> str:
    if port.permission.allowed:
        return words.say("devices.allowed")
    code, args = port.permission.code_and_words(port.device)
    return words.say(code, *args)


def _plain(port: "PortSeen") -> dict[str, object]:
    usb = port.usb
    return {
        "name": port.name,
        "device": port.device,
        "names": list(port.names),
        "kind": port.kind.value,
        "description": port.description,
        "usb": None
        if usb is None
        else {
            "vendor": f"{usb.vendor:04x}",
            "product": f"{usb.product:04x}",
            "serial": usb.serial,
            "maker": usb.maker,
            "title": usb.title,
        },
        "busy": port.holders.busy,
        "programs": list(port.holders.programs),
        "allowed": port.permission.allowed,
        "advice": None if port.permission.allowed else _right(port),
    }
