"""Libraries that only some forms of an answer need: loaded when first needed, and named where one is not installed."""

import importlib
from functools import cache
from typing import Any

__all__ = ["MissingLibraryError", "library"]


class MissingLibraryError(RuntimeError):
    """Raised where a library that a picture, a page or a calendar is made with is not installed."""

    def __init__(self, what: str, name: str, extra: str) -> None:
        super().__init__(f"{what} need {name}, which is not installed: pip install 'dosewright[{extra}]'")


@cache
def library(module: str, what: str, extra: str = "pages") -> Any:
    """Return a module of a library, typed loosely, since not every library is typed.

    Parameters
    ----------
    module : str
        Its name.
    what : str
        What is made with it, in the plural.
    extra : str
        The extra of this project that installs it.

    Raises
    ------
    MissingLibraryError
        It is not installed.
    """
    try:
        return importlib.import_module(module)
    except ModuleNotFoundError:
        raise MissingLibraryError(what, module.partition(".")[0], extra) from None
