"""An emulated radio for the Bluetooth library of this very process, as long as it is entered."""

import asyncio
import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from drivers.sim.bluez.daemon import ADDRESS_VARIABLE, PrivateBus
from drivers.sim.bluez.peripheral import Peripheral
from drivers.sim.bluez.radio import Radio
from drivers.sim.bluez.service import BluetoothService

_PATIENCE_S = 5.0
_OF_THE_LIBRARY = "BlueZManager."  # its task that waits for the end of its bus


@asynccontextmanager
async def on_air(*peripherals: Peripheral) -> AsyncIterator[BluetoothService]:
    """The service on a bus of its own, which the library takes for the system's. Close all links before it ends."""
    before = os.environ.get(ADDRESS_VARIABLE)
    with PrivateBus() as bus:
        os.environ[ADDRESS_VARIABLE] = bus.address
        service = BluetoothService(Radio(peripherals), bus.address)
        try:
            await service.up()
            yield service
        finally:
            await service.down()
            if before is None:
                os.environ.pop(ADDRESS_VARIABLE, None)
            else:
                os.environ[ADDRESS_VARIABLE] = before
    await library_ended()


async def library_ended() -> None:
    """After a bus has ended, waits for what the library began for it."""
    ending = {task for task in asyncio.all_tasks() if _name(task).startswith(_OF_THE_LIBRARY)}
    if ending:
        await asyncio.wait(ending, timeout=_PATIENCE_S)


def _name(task: "asyncio.Task[object]") -> str:
    return str(getattr(task.get_coro(), "__qualname__", ""))
