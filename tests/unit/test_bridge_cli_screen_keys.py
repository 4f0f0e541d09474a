"""Keys of a terminal that goes away while it is read."""

import asyncio
import os

from bridge.cli.screen_keys import keys


def test_a_terminal_that_went_away_is_told_and_not_given_back() -> None:
    async def read(near: int, far: int) -> list[str]:
        with keys(near) as pressed:
            os.write(far, b"q")
            found = [await pressed.get()]
            os.close(far)
            return [*found, await pressed.get()]

    far, near = os.openpty()
    try:
        assert asyncio.run(read(near, far)) == ["q", ""]
    finally:
        os.close(near)
