"""The register of calculations: one entry each, from which routes, documents and client methods follow."""

import inspect
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from importlib.resources.abc import Traversable
from types import MappingProxyType
from typing import Any, Generic, TypeVar

from dosewright.engine.base import Answer, Request
from dosewright.engine.notes import Notes
from dosewright.engine.reading.places import register_fields
from dosewright.engine.reading.reader import reader_for

__all__ = ["Calculation", "Cases", "Check", "Command", "Views", "calculation", "calculations", "entry_of", "find"]

Ask = TypeVar("Ask", bound=Request)
Given = TypeVar("Given", bound=Answer)

_REGISTER: dict[str, "Calculation[Any, Any]"] = {}
_BY_ANSWER: dict[type[Answer], "Calculation[Any, Any]"] = {}


@dataclass(frozen=True, slots=True)
class Check:
    """A condition between fields; its test ends where it needs a value that could not be read."""

    fields: tuple[str, ...]
    test: Callable[[Any, Notes], None]


@dataclass(frozen=True, slots=True)
class Cases:
    """A table of cases that a workbook shows with a chart.

    Attributes
    ----------
    field, unit : str
        What varies.
    values : tuple of float
        Its values.
    result : str
        The field of the answer that is drawn over it.
    """

    field: str
    unit: str
    values: tuple[float, ...]
    result: str


@dataclass(frozen=True, slots=True)
class Command:
    """A command of the terminal that asks a calculation from a file.

    Attributes
    ----------
    name, summary : str
        What it is called, and what it does.
    noun : str
        What the file holds, with its article.
    head : str
        How a file to start from begins.
    examples : folder
        Invented requests, as TOML.
    shown : callable
        Returns the paragraphs that it prints of an answer.
    filled : mapping, optional
        Sections of a file to start from, in place of those of the example.
    """

    name: str
    summary: str
    noun: str
    head: str
    examples: Traversable
    shown: Callable[[Any], Iterable[str]]
    filled: Mapping[str, Any] = field(default_factory=dict[str, Any])


@dataclass(frozen=True, slots=True)
class Views:
    """How answers are shown in addition to their table; each function takes the answer.

    Attributes
    ----------
    chart : callable, optional
        Returns what its picture shows (:class:`~dosewright.present.picture.chart.Chart`).
    drawing : callable, optional
        Returns a drawing to scale, as SVG.
    page : callable, optional
        Returns its page to print (:class:`~dosewright.present.blocks.Page`).
    web_page : bool
        Whether the page is its HTML form too, in place of a table.
    calendar : callable, optional
        Returns its events (RFC 5545).
    cases : Cases, optional
        What its workbook draws.
    command : Command, optional
        How it runs from a file.
    """

    chart: Callable[[Any], Any] | None = None
    drawing: Callable[[Any], str] | None = None
    page: Callable[[Any], Any] | None = None
    web_page: bool = False
    calendar: Callable[[Any], bytes] | None = None
    cases: Cases | None = None
    command: Command | None = None


_NO_VIEWS = Views()


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
    views : Views
        How answers are shown in addition to their table.
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
    views: Views = _NO_VIEWS
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
        """Register a condition between fields; it reports faults through the notes."""

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
    views: Views = _NO_VIEWS,
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
        description = inspect.getdoc(body) or ""
        entry = Calculation(
            path, request, answer, body, summary, description, MappingProxyType(dict(example)), batch, views
        )
        _REGISTER[path] = entry
        _BY_ANSWER.setdefault(answer, entry)
        register_fields(path, lambda: reader_for(request))
        return entry

    return register


def calculations() -> Mapping[str, Calculation[Any, Any]]:
    """Return all calculations by path, sorted; importing :mod:`dosewright.topics` registers them."""
    return MappingProxyType(dict(sorted(_REGISTER.items())))


def find(path: str) -> Calculation[Any, Any]:
    """Return one calculation.

    Raises
    ------
    KeyError
        No calculation has this path.
    """
    return _REGISTER[path]


def entry_of(answer: type[Answer]) -> Calculation[Any, Any]:
    """Return the calculation that answers with a type.

    Raises
    ------
    KeyError
        No calculation does.
    """
    return _BY_ANSWER[answer]
