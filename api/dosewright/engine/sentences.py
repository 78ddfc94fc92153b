"""Texts as parts of a sentence."""

from collections.abc import Iterable

__all__ = ["capitalised", "listed"]

_NEVER_CAPITALISED = ("pH", "pK")


def capitalised(text: str) -> str:
    """Return a text as it begins a sentence: its first letter a capital, but for names such as pH."""
    return text if text.startswith(_NEVER_CAPITALISED) else text[:1].upper() + text[1:]


def listed(texts: Iterable[str]) -> str:
    """Return texts as a sentence lists them: ``a``, ``a and b``, ``a, b and c``."""
    *most, last = texts
    return f"{', '.join(most)} and {last}" if most else last
