"""The known name closest to one that was misspelt."""

import difflib
from collections.abc import Sequence

__all__ = ["nearest"]

_LONGEST = 64  # of a name worth comparing


def nearest(name: str, known: Sequence[str]) -> str | None:
    """Return the known name closest to a misspelt one, or None when none is close."""
    if len(name) > _LONGEST:
        return None
    matches = difflib.get_close_matches(name.lower(), known, n=1, cutoff=0.6)
    return matches[0] if matches else None
