"""Wrenches on pseudo terminals as a process of its own, for load: `python -m drivers.sim.ports FOLDER COUNT`.

Its first lines are the names of the ports, made in that folder. Then it reads lines: `prepare PROFILE[,PROFILE…] RATE
SECONDS` makes the messages; `pace` sends them and is answered with `done`, the milliseconds by which the latest was
late and how often one had to wait for room. It ends with its input.
"""

import asyncio
import sys
from pathlib import Path

from drivers.errors import DriverError
from drivers.sim.lines import obey_lines, say
from drivers.sim.pacing import Paced
from drivers.sim.pseudo_terminal import PseudoTerminal

MOST = 250  # ports
PREFIX = "P"  # of the serial nos.


async def serve(folder: Path, count: int) -> None:
    """Until there is no more input."""
    ports = [PseudoTerminal(folder / f"usb-Example_Wrench_{place:04d}-if00-port0") for place in range(count)]

    paced = Paced(PREFIX, count)

    async def obey(line: str) -> str:
        act, _, about = line.partition(" ")
        if act == "prepare":
            paced.prepare(about)
            return "done"
        if act != "pace":
            raise DriverError("link.act-unknown", act, "pace, prepare")
        held = sum(port.held for port in ports)
        late_s = await paced.send(lambda place, data: ports[place].write(data))
        return f"done {1000 * late_s:.0f} {sum(port.held for port in ports) - held}"

    try:
        for port in ports:
            port.plug()
        say(*(port.name for port in ports))
        await obey_lines(obey)
    finally:
        for port in ports:
            port.close()


def main() -> int:
    """Exit code 2 for arguments that are none."""
    match sys.argv[1:]:
        case [folder, count] if count.isdecimal() and 1 <= int(count) <= MOST:
            asyncio.run(serve(Path(folder), int(count)))
            return 0
    sys.stderr.write(f"expected a folder and a count of ports from 1 to {MOST}\n")
    return 2


if __name__ == "__main__":
    sys.exit(main())
