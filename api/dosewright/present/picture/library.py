"""The plotting library, matplotlib: loaded when a picture is first asked, and typed loosely, as its own types are."""

import importlib
from functools import cache
from typing import Any

__all__ = ["MissingLibraryError", "library"]


class MissingLibraryError(RuntimeError):
    """Raised where matplotlib is not installed."""

    def __init__(self) -> None:
        super().__init__("Pictures need matplotlib, which is not installed: pip install 'dosewright[pictures]'")


@cache
def library(module: str = "") -> Any:
    """Return matplotlib, or one of its modules.

    Raises
    ------
    MissingLibraryError
        It is not installed.
    """
    try:
        return importlib.import_module(f"matplotlib.{module}" if module else "matplotlib")
    except ModuleNotFoundError:
        raise MissingLibraryError from None
