"""An emulated radio as a process of its own, for demonstrations and load: `python -m drivers.sim.bluez [WRENCHES]`.

Its first line is the setting that leads the Bluetooth library to it; then a line for each wrench. Each line it reads is
an act and what it is about, such as `drop 02:00:00:00:0A:01` or `hang Connect`; `send ADDRESS TEXT` lets a wrench send
a line, `hex ADDRESS BYTES` bytes, `burst ADDRESS COUNT` numbered lines. Each is answered with `done` or what was wrong;
it ends with its input.
"""

import asyncio
import sys

from drivers.errors import DriverError
from drivers.sim.bluez.acts import perform
from drivers.sim.bluez.daemon import ADDRESS_VARIABLE, PrivateBus
from drivers.sim.bluez.peripheral import radio_wrench
from drivers.sim.bluez.radio import Radio
from drivers.sim.bluez.service import BluetoothService

MOST = 250  # wrenches


def addresses(count: int) -> list[str]:
    """Addresses of that many wrenches."""
    return [f"02:00:00:00:{0x0A + number // 256:02X}:{number % 256:02X}" for number in range(1, count + 1)]


async def obey(service: BluetoothService, line: str) -> str:
    """Do what a line says; the answer to it."""
    act, _, about = line.strip().partition(" ")
    address, _, text = about.partition(" ")
    if act == "send":
        return "done" if service.radio.notify(address, f"{text}\r\n".encode()) else "nobody listens"
    if act == "hex":
        try:
            data = bytes.fromhex(text)
        except ValueError:
            return f"not hex: {text}"
        return "done" if service.radio.notify(address, data) else "nobody listens"
    if act == "burst":
        if not text.isdecimal():
            return f"not a count: {text}"
        heard = [service.radio.notify(address, b"%06d\r\n" % number) for number in range(int(text))]
        await service.flushed()
        return "done" if all(heard) else "nobody listens"
    try:
        await perform(service, act, about)
    except DriverError as error:
        return " ".join((error.code, *error.words))
    return "done"


async def serve(bus: PrivateBus, count: int) -> None:
    """Until there is no more input."""
    wrenches = addresses(count)
    service = BluetoothService(Radio(radio_wrench(address) for address in wrenches), bus.address)
    await service.up()
    lines = asyncio.StreamReader()
    reading, _ = await asyncio.get_running_loop().connect_read_pipe(
        lambda: asyncio.StreamReaderProtocol(lines), sys.stdin
    )
    try:
        _say(f"{ADDRESS_VARIABLE}={bus.address}", *wrenches)
        while line := await lines.readline():
            _say(await obey(service, line.decode("utf-8", "replace")))
    finally:
        reading.close()
        await service.down()


def _say(*lines: str) -> None:
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    sys.stdout.flush()


def main() -> int:
    """Exit code 2 for a count that is none."""
    given = sys.argv[1] if len(sys.argv) > 1 else "1"
    if not given.isdecimal() or not 1 <= int(given) <= MOST:
        sys.stderr.write(f"expected a count of wrenches from 1 to {MOST}\n")
        return 2
    with PrivateBus() as bus:
        asyncio.run(serve(bus, int(given)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
