"""Times as a person reads them: in the largest unit that they hold at least twice."""

from collections.abc import Mapping

__all__ = ["EXACT", "SECONDS", "readable_time"]

SECONDS: Mapping[str, float] = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86_400.0}
"""Seconds in each unit for times, smallest first."""

EXACT = 1e-9
"""What arithmetic leaves of a number that is round, relative."""


def readable_time(value: float, unit: str) -> tuple[float, str]:
    """Return a time in the largest unit that it holds at least twice: 1440 min as 24 h, 10,080 min as 7 d.

    Raises
    ------
    KeyError
        The unit is none of a time.
    """
    seconds = value * SECONDS[unit]
    fitting = [name for name, size in SECONDS.items() if seconds * (1.0 + EXACT) >= 2.0 * size]
    shown = fitting[-1] if fitting else "s"
    return seconds / SECONDS[shown], shown
