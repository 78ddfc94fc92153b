"""How a typed call is sent: written once, for a call that answers at once and for one that is awaited."""

import functools
import importlib
from collections.abc import Callable, Coroutine, Mapping
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar, cast

__all__ = ["AsyncCaller", "Caller", "Calls", "awaited", "batch", "single"]

P = ParamSpec("P")
R = TypeVar("R")
Method = TypeVar("Method", bound=Callable[..., Any])


class Caller(Protocol):
    """What sends a call and brings its answer."""

    def single(self, path: str, answer: Any, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation."""
        ...

    def batch(self, path: str, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation over columns."""
        ...


class AsyncCaller(Protocol):
    """As :class:`Caller`, for asyncio."""

    async def single(self, path: str, answer: Any, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation."""
        ...

    async def batch(self, path: str, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation over columns."""
        ...


class Calls:
    """The calculations of one topic, for one caller."""

    def __init__(self, caller: Caller | AsyncCaller) -> None:
        self._caller: Any = caller


def single(path: str, answer: str) -> Callable[[Method], Method]:
    """Return what turns a signature into a call.

    Keywords go out as they are given: one that is misspelt or missing is a fault that the calculation names with all
    others, over HTTP as in process.

    Parameters
    ----------
    path : str
        The calculation's path.
    answer : str
        Module and name of the answer's contract, which the first call loads: importing the client loads none.
    """

    def decorate(method: Method) -> Method:
        @functools.wraps(method)
        def call(self: Any, **keywords: Any) -> Any:
            return self._caller.single(path, _contract(answer), keywords)

        return cast("Method", call)

    return decorate


def batch(path: str) -> Callable[[Method], Method]:
    """Return what turns a signature into a call over columns; see :func:`single`."""

    def decorate(method: Method) -> Method:
        @functools.wraps(method)
        def call(self: Any, **keywords: Any) -> Any:
            return self._caller.batch(path, keywords)

        return cast("Method", call)

    return decorate


def awaited(
    like: Callable[Concatenate[Any, P], R],
) -> Callable[[Callable[..., Any]], Callable[Concatenate[Any, P], Coroutine[Any, Any, R]]]:
    """Return what gives a method the signature of another, to be awaited."""

    def decorate(method: Callable[..., Any]) -> Callable[Concatenate[Any, P], Coroutine[Any, Any, R]]:
        @functools.wraps(method)
        async def call(self: Any, *args: P.args, **keywords: P.kwargs) -> R:
            return await cast("Any", like(self, *args, **keywords))

        call.__doc__ = like.__doc__
        cast("Any", call).__wrapped__ = like  # whose signature is shown
        return call

    return decorate


@functools.cache
def _contract(answer: str) -> Any:
    module, _, name = answer.rpartition(".")
    return getattr(importlib.import_module(module), name)[float]
