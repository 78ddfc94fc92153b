"""The plotting library."""

from typing import Any

from dosewright.present.library import library

__all__ = ["plotting"]


def plotting(module: str = "") -> Any:
    """Return matplotlib, or one of its modules.

    Raises
    ------
    MissingLibraryError
        It is not installed.
    """
    return library(f"matplotlib.{module}" if module else "matplotlib", "Pictures", "pictures")
