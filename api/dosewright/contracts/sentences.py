"""Texts as they stand in a sentence."""

__all__ = ["capitalised"]

_NEVER_CAPITALISED = ("pH", "pK")


def capitalised(text: str) -> str:
    """Return a text as it begins a sentence: its first letter a capital, but for names such as pH."""
    return text if text.startswith(_NEVER_CAPITALISED) else text[:1].upper() + text[1:]
