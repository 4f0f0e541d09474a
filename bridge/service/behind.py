"""What one link has sent to be recorded and is not recorded yet: the link goes on being read, up to a bound.

A commit holds what waits when the last one has returned. If each link waited for its own, a commit would hold one
message of each; so a backlog could never be made up for.
"""

import asyncio
from collections import deque

from bridge.core.commands import Answer, Command
from bridge.service.bench import Bench

MOST = 512  # commands of one link


class Behind:
    """Commands of one link in their order. Queued is not recorded: nothing here tells anybody that it was."""

    def __init__(self, bench: Bench, most: int = MOST) -> None:
        self._bench = bench
        self._most = most
        self._waiting: deque[asyncio.Future[Answer]] = deque()

    async def post(self, *commands: Command) -> None:
        """Queue them; waits while too much is queued. Raises `TrailTrouble` once recording ended."""
        for future in self._bench.post(*commands):
            future.add_done_callback(_look_at)
            self._waiting.append(future)
        while self._waiting and (self._waiting[0].done() or len(self._waiting) > self._most):
            await self._waiting[0]
            self._waiting.popleft()


def _look_at(future: asyncio.Future[Answer]) -> None:
    """How the last ones end when nobody listens any more is told by the bench."""
    if not future.cancelled():
        future.exception()
