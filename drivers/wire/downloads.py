"""Where downloads from a wrench's memory begin and end in what it sends, told in order with its messages.

A download begins with the frame that says so, or with the first message that says of itself that it comes from memory;
it ends with its frame, with a message that says of itself that it was pulled now, with silence or with the link.
"""

from drivers.reading import MemoryEdge, Message, Received
from drivers.wire.profile import Profile


class Downloads:
    """The downloads of one wrench. Ends always follow begins, and one that is not known to be whole says why."""

    def __init__(self, profile: Profile) -> None:
        memory = profile.memory
        self._begin = None if memory is None else memory.begin
        self._end = None if memory is None else memory.end
        self._newest_first = memory is not None and memory.newest_first
        self._marked = profile.marks_memory
        self.open = False
        self._came = 0  # readings since the reply began
        self._told: int | None = None  # how many it was to hold

    def mark(self, raw: bytes, body: bytes) -> list[MemoryEdge] | None:
        """What a frame tells of a download; None where it is no mark of one."""
        begins = None if self._begin is None else self._begin.read(body)
        if begins is not None:
            edges = self.stop("link.memory-anew")
            self.open, self._came, self._told = True, 0, begins.number
            return [*edges, MemoryEdge("begin", raw, self._newest_first)]
        ends = None if self._end is None else self._end.read(body)
        if ends is None:
            return None
        edges = self._opened()
        told = self._told if ends.number is None else ends.number
        whole = told in (None, self._came)
        why = ("", ()) if whole else ("link.memory-count", (str(told), str(self._came)))
        self.open, self._came, self._told = False, 0, None
        return [*edges, MemoryEdge("end", raw, False, *why)]

    def message(self, message: Message) -> list[Received]:
        """A message behind what it tells of a download."""
        edges: list[MemoryEdge] = []
        if self._marked and not message.live:
            edges = self._opened() if message.memory else self._close("link.memory-live")
        if self.open and not message.live:
            self._came += 1
        return [*edges, message]

    def stop(self, why: str) -> list[MemoryEdge]:
        """The download ends for that reason; nothing where none is open."""
        edges = self._close(why)
        self._came, self._told = 0, None
        return edges

    def _opened(self) -> list[MemoryEdge]:
        if self.open:
            return []
        self.open = True
        return [MemoryEdge("begin", b"", self._newest_first)]

    def _close(self, why: str) -> list[MemoryEdge]:
        if not self.open:
            return []
        self.open = False
        return [MemoryEdge("end", b"", False, why, (str(self._came),))]
