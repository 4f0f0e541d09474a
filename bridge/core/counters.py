"""The count that some wrenches send with every message, begun again at 0 after the highest number.

That is the end of 8 or 16 bits, or of four, five or six digits.
"""

WRAPS = (1 << 8, 10**4, 1 << 16, 10**5, 10**6)
NEAR_END = 64  # a wrap skips at most this many numbers, a larger leap back is a counter that was set back


def step_between(old: int, new: int) -> int | None:
    """From one count to a later one, over the end of a counter too; None where it ran back."""
    if new >= old:
        return new - old
    for wrap in WRAPS:
        if old < wrap and new + wrap - old <= NEAR_END:
            return new + wrap - old
    return None


def begins_anew(old: int, new: int) -> bool:
    """Whether a number that follows another is of a new count: over the end of a counter, or set back from afar."""
    return new < old and (step_between(old, new) is not None or old - new > NEAR_END)
