"""Misspelt or missing keywords of a call: reported as faults with suggestions, as over HTTP."""

import functools
import inspect
from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar, cast

__all__ = ["checked"]

P = ParamSpec("P")
R = TypeVar("R")


def checked(path: str, kind: str = "single") -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Send a call whose keywords do not fit, so that the calculation names every fault.

    Parameters
    ----------
    path : str
        The calculation's path.
    kind : {"single", "batch"}
        What the call asks for.

    Raises
    ------
    InvalidRequestError
        From the call: an unknown or a missing keyword, with what it may have meant.
    """

    def decorate(method: Callable[P, R]) -> Callable[P, R]:
        parameters = list(inspect.signature(method).parameters.values())[1:]
        known = frozenset(one.name for one in parameters)
        required = frozenset(one.name for one in parameters if one.default is one.empty)

        @functools.wraps(method)
        def call(*args: P.args, **keywords: P.kwargs) -> R:
            if len(args) > 1 or (known.issuperset(keywords) and required.issubset(keywords)):
                return method(*args, **keywords)
            caller: Any = cast("Any", args[0])._caller  # noqa: SLF001 - of the same package
            payload = {name: value for name, value in keywords.items() if value is not None}
            asked = (path, payload) if kind == "batch" else (path, Any, payload)
            return cast("R", getattr(caller, kind)(*asked))

        return call

    return decorate
