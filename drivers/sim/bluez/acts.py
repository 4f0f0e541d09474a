"""What can befall an emulated radio, by name: for tests, and for lines typed at the process of its own."""

from collections.abc import Awaitable, Callable, Mapping

from drivers.errors import DriverError
from drivers.sim.bluez import names
from drivers.sim.bluez.service import BluetoothService

Act = Callable[[BluetoothService, str], Awaitable[None] | None]


async def perform(service: BluetoothService, act: str, about: str = "") -> None:
    """Let it happen and be told; `about` is a wrench's address, or a method such as `Connect`.

    Raises `DriverError` for an unknown act.
    """
    if act not in ACTS:
        raise DriverError("link.act-unknown", act, ", ".join(sorted(ACTS)))
    happening = ACTS[act](service, about)
    if happening is not None:
        await happening
    await service.flushed()


def _refuse(service: BluetoothService, method: str) -> None:
    service.radio.faults.refused[method] = (names.FAILED, "le-connection-refused")


def _refuse_pairing(service: BluetoothService, _: str) -> None:
    service.radio.faults.refused["Pair"] = (names.PAIRING_REFUSED, "Authentication Failed")


def _leave(service: BluetoothService, address: str) -> None:
    service.radio.faults.off_air.add(address)
    service.radio.link_down(address)


# adapter-…: its switch and its plug. drop, vanish, silence, unresolved, leave, return: one wrench. hang, refuse: a
# method of the service. crash, restart: the service itself. heal: all of it works again.
ACTS: Mapping[str, Act] = {
    "adapter-off": lambda service, _: service.radio.power(on=False),
    "adapter-on": lambda service, _: service.radio.power(on=True),
    "adapter-gone": lambda service, _: service.radio.unplug(),
    "adapter-back": lambda service, _: service.radio.plug(),
    "drop": lambda service, address: service.radio.link_down(address),
    "vanish": lambda service, address: service.radio.vanish(address),
    "silence": lambda service, address: service.radio.faults.silent.add(address),
    "unresolved": lambda service, address: service.radio.faults.unresolved.add(address),
    "leave": _leave,
    "return": lambda service, address: service.radio.faults.off_air.discard(address),
    "hang": lambda service, method: service.radio.faults.hanging.add(method),
    "refuse": _refuse,
    "refuse-pairing": _refuse_pairing,
    "crash": lambda service, _: service.down(),
    "restart": lambda service, _: service.up(),
    "heal": lambda service, _: service.radio.faults.heal(),
}
