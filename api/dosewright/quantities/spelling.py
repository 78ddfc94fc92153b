"""Suggestions for a misspelt name, or for an everyday name."""

import difflib
import re
from collections.abc import Sequence
from functools import cache

from dosewright.tables import table

__all__ = ["in_own_words", "likely", "meant", "nearest"]

_LONGEST_NAME = 64
_MOST_NAMES = 8
_SPACES = re.compile(r"[\s-]+")


def nearest(name: str, known: Sequence[str]) -> str | None:
    """Return the known name closest to a misspelt one, or None when none is close."""
    if len(name) > _LONGEST_NAME:
        return None
    matches = difflib.get_close_matches(name.lower(), known, n=1, cutoff=0.6)
    return matches[0] if matches else None


def meant(name: str, known: Sequence[str]) -> str:
    """Return a suggestion for a name, or an empty text; see :func:`likely`."""
    names = likely(name, known)
    if len(names) > 1:
        return f" Did you mean one of {', '.join(names[:_MOST_NAMES])}?"
    return f" Did you mean {names[0]!r}?" if names else ""


def likely(name: str, known: Sequence[str]) -> list[str]:
    """Return the known names that a name can mean: by everyday words, by names that contain it, or the closest."""
    if len(name) > _LONGEST_NAME:
        return []
    word = _SPACES.sub("_", name.strip().lower())
    listed = in_own_words(name, known)
    if listed or len(word) <= 2:  # a shorter word is in everything
        return listed
    held = [one for one in known if word in one.split("_")]
    close = nearest(word, known)
    # A slip of the pen is more likely than a word that happens to be inside a longer name.
    inside = [close] if close else [one for one in known if word in one]
    return held or inside


def in_own_words(name: str, known: Sequence[str]) -> list[str]:
    """Return the known names that the table of shortened names has for a word."""
    starts = _everyday_names().get(_SPACES.sub("_", name.strip().lower()), ())
    return list(dict.fromkeys(one for start in starts for one in known if _begins(one, start)))


def _begins(one: str, start: str) -> bool:
    return one.startswith(start[:-1]) if start.endswith("*") else one == start


@cache
def _everyday_names() -> dict[str, list[str]]:
    """Return the names of tables by their everyday names."""
    found: dict[str, list[str]] = {}
    for row in table("spoken_names").rows:
        found.setdefault(row["word"], []).append(row["name"])
    return found
