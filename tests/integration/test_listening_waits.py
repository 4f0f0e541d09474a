"""Whoever listens waits out the troubles of a radio as such, and those of a port as usual."""

import asyncio
from decimal import Decimal
from typing import cast

import pytest

from bridge.cli.listen_hearing import Hearing
from bridge.cli.listen_job import hear
from bridge.service.bench import Bench
from bridge.service.listening import listen
from drivers.base import Link
from drivers.links.ble_limits import BLE_WAITS
from drivers.load import builtin_profile
from drivers.sim.driver import SimLink

NOTIFIES = "02:00:00:00:0A:01"


@pytest.mark.parametrize("module", ["bridge.service.listening", "bridge.cli.listen_job"])
async def test_trouble_of_a_radio_is_waited_out_as_such(module: str, monkeypatch: pytest.MonkeyPatch) -> None:
    given: dict[str, object] = {}

    def kept(link: Link, **options: object) -> None:
        given.update(options)
        raise InterruptedError

    monkeypatch.setattr(f"{module}.keep", kept)
    for place, waits in ((NOTIFIES, BLE_WAITS), ("/dev/ttyUSB0", {})):
        with pytest.raises(InterruptedError):
            await listening(module, SimLink(place))
        assert given["waits_by"] == waits


class Nobody:
    """A bench that records nothing."""

    def now(self) -> Decimal:
        return Decimal(0)

    async def submit(self, *_: object) -> tuple[object, ...]:
        return ()


async def listening(module: str, link: Link) -> None:
    """Whoever listens there begins; it gets no further than the link."""
    if module == "bridge.cli.listen_job":
        heard = Hearing(Decimal(0), quiet_s=Decimal(1), silence_s=Decimal(1))
        await hear(link, heard, Decimal, lambda _: None, asyncio.Event())
    else:
        await listen(cast("Bench", Nobody()), "W1", link, builtin_profile("line-radio"), "A1")
