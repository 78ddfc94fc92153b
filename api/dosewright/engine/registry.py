"""The register of calculations: one entry each, from which routes, documents and client methods follow."""

import importlib
import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Generic, TypeVar

from dosewright.engine.base import Answer, Request
from dosewright.engine.notes import Notes

__all__ = ["Calculation", "Check", "calculation", "calculations", "find"]

Ask = TypeVar("Ask", bound=Request)
Given = TypeVar("Given", bound=Answer)

_REGISTER: dict[str, "Calculation[Any, Any]"] = {}


@dataclass(frozen=True, slots=True)
class Check:
    """A condition between fields, tested when each of them could be read."""

    fields: tuple[str, ...]
    test: Callable[[Any, Notes], None]


@dataclass(frozen=True)
class Calculation(Generic[Ask, Given]):
    """One calculation.

    Attributes
    ----------
    path : str
        Topic and name, e.g. ``pipe/velocity``.
    request, answer : type
        Contract types.
    body : callable
        SI request and notes in, SI answer out; floats or arrays.
    summary : str
        One line.
    description : str
        The body's docstring.
    example : dict
        A request that runs, as JSON.
    batch : bool
        Whether it answers batches; one that puts other calculations together does not.
    checks : list of Check
        Conditions between fields.
    """

    path: str
    request: type[Request]
    answer: type[Answer]
    body: Callable[[Ask, Notes], Given]
    summary: str
    description: str
    example: Mapping[str, Any]
    batch: bool = True
    checks: list[Check] = field(default_factory=list[Check])

    @property
    def topic(self) -> str:
        """The part of the path before the slash."""
        return self.path.partition("/")[0]

    @property
    def name(self) -> str:
        """The part of the path after the slash."""
        return self.path.partition("/")[2]

    @property
    def operation(self) -> str:
        """Path as an identifier, e.g. ``pipe_velocity``."""
        return self.path.replace("/", "_").replace("-", "_")

    def check(self, *fields: str) -> Callable[[Callable[[Ask, Notes], None]], Callable[[Ask, Notes], None]]:
        """Register a condition between fields; it refuses through the notes it is given."""

        def keep(test: Callable[[Ask, Notes], None]) -> Callable[[Ask, Notes], None]:
            self.checks.append(Check(fields, test))
            return test

        return keep


def calculation(
    path: str,
    *,
    request: type[Request],
    answer: type[Answer],
    summary: str,
    example: Mapping[str, Any],
    batch: bool = True,
) -> Callable[[Callable[[Ask, Notes], Given]], Calculation[Ask, Given]]:
    """Register a calculation under its path.

    Raises
    ------
    ValueError
        The path is taken.
    """

    def register(body: Callable[[Ask, Notes], Given]) -> Calculation[Ask, Given]:
        if path in _REGISTER:
            raise ValueError(f"{path} is registered twice")
        entry = Calculation(
            path, request, answer, body, summary, inspect.getdoc(body) or "", MappingProxyType(dict(example)), batch
        )
        _REGISTER[path] = entry
        return entry

    return register


def calculations() -> Mapping[str, Calculation[Any, Any]]:
    """Return all calculations by path, sorted."""
    importlib.import_module("dosewright.calculations.topics")  # registers them; the topics import this module

    return MappingProxyType(dict(sorted(_REGISTER.items())))


def find(path: str) -> Calculation[Any, Any]:
    """Return one calculation.

    Raises
    ------
    KeyError
        No calculation has this path.
    """
    entry = _REGISTER.get(path)
    return calculations()[path] if entry is None else entry
