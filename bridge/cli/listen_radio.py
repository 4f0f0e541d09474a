"""A radio wrench of which nobody has said yet what to read: what it notifies, told without reading any of it."""

import asyncio
import json
from dataclasses import asdict
from decimal import Decimal
from typing import TYPE_CHECKING

import click

from bridge import words
from bridge.errors import NOTHING_TO_DECIDE, BadInput, DeviceTrouble
from drivers.links.named import is_radio
from drivers.registry import needing
from drivers.wire.radio import Notified, identifier

if TYPE_CHECKING:
    from drivers.links.ble_look import Looked


def notified_values(place: str, text: str) -> Notified:
    """The characteristic that `--values` names. Raises `BadInput`."""
    if not is_radio(place):
        raise BadInput("listen.values-port", place)
    found = identifier(text)
    if found is None:
        raise BadInput("listen.values-form", text)
    return Notified(found)


async def show_radio(address: str, within_s: Decimal | None, as_json: bool) -> int:
    """Connect once and list what notifies. Raises `LinkError`, `DeviceTrouble`, `DriverError` without the library."""
    module = needing("ble", "drivers.links.ble_look")
    try:
        async with asyncio.timeout(None if within_s is None else float(within_s)):
            looked: Looked = await module.look(address)
    except TimeoutError as error:
        raise DeviceTrouble("listen.not-there", address, str(within_s)) from error
    if as_json:
        shown = [{**asdict(each), "declares": each.declares and each.declares.hex()} for each in looked.notifying]
        click.echo(json.dumps({"radio": address, "name": looked.name, "notifying": shown}, ensure_ascii=False))
        return NOTHING_TO_DECIDE
    if looked.name is not None:
        click.echo(words.say("listen.radio-named", address, looked.name))
    click.echo(words.say("listen.radio-notifies" if looked.notifying else "listen.radio-none", address))
    for each in looked.notifying:
        flags = ", ".join(each.flags)
        click.echo(words.say("listen.radio-line", each.identifier, each.title, each.service_title, flags))
        if each.declares is not None:
            click.echo(words.say("listen.radio-declares", each.declares.hex()))
    return NOTHING_TO_DECIDE
