"""What every request and every answer has in common."""

from functools import cache
from typing import Any, Generic, TypeVar

import msgspec

from dosewright import __version__
from dosewright.engine.faults import Fault
from dosewright.engine.shown import Shown
from dosewright.quantities import UnitProfile

__all__ = ["Answer", "Basis", "BatchAnswer", "Caution", "N", "Q", "Request", "Warn", "as_mapping"]

Q = TypeVar("Q", covariant=True)  # noqa: PLC0105 - short, because every field uses it
"""How a request holds a quantity: as the caller wrote it, or in SI."""

N = TypeVar("N", covariant=True)  # noqa: PLC0105
"""How an answer holds a number: a float, or an array inside a batch."""


class Request(msgspec.Struct, kw_only=True, forbid_unknown_fields=True):
    """Base of all requests.

    Attributes
    ----------
    units : {"us", "metric", "si"}, optional
        Unit profile: gives bare numbers their unit and sets the units of the answer (metric when absent).
    answer_units : dict of str to str, optional
        Units of single answer fields, e.g. ``{"velocity": "ft/s"}``.
    """

    units: UnitProfile | None = None
    answer_units: dict[str, str] | None = None


def as_mapping(struct: msgspec.Struct) -> dict[str, Any]:
    """Return what was set in a request, or in one of its items, as plain data; its tag becomes the kind.

    A field left at its default counts as not set, so that the answer lists it among the defaults used.
    """
    defaults = _defaults(type(struct))
    given = {name: getattr(struct, name) for name in struct.__struct_fields__}
    # An array can only be compared entry by entry, and no default is one.
    given = {
        name: value
        for name, value in given.items()
        if value is not defaults[name] and not (isinstance(value, str) and value == defaults[name])
    }
    tag = struct.__struct_config__.tag
    return given if tag is None else {"kind": tag, **given}


@cache
def _defaults(struct: type[msgspec.Struct]) -> dict[str, Any]:
    return {info.name: info.default for info in msgspec.structs.fields(struct)}


class Basis(msgspec.Struct, frozen=True, kw_only=True):
    """A method that an answer uses, where it is published, and where it holds."""

    method: str
    source: str
    validity: str


class Caution(msgspec.Struct, frozen=True, kw_only=True):
    """A danger to people or property in the work the answer is for."""

    code: str
    message: str


class Warn(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Something in the answer that the caller should look at.

    Attributes
    ----------
    code : str
        Stable, machine-readable name.
    field : str
        The request or answer field concerned.
    message : str
        What it is and what follows from it.
    rows : list of int, optional
        In a batch: the rows (from 0) concerned; absent where it concerns all of them.
    """

    code: str
    field: str
    message: str
    rows: list[int] | None = None


class Answer(Shown, msgspec.Struct, kw_only=True):
    """Base of all answers: what comes after the calculation's own fields.

    Attributes
    ----------
    units : dict of str to str
        Unit of each numeric field; a field of list items is named ``list.field``.
    warnings : list of Warn
        What the caller should look at.
    cautions : list of Caution
        Dangers in the work the answer is for.
    basis : list of Basis
        Methods, sources and where they hold.
    inputs : dict
        What was understood, after defaults, in the SI profile's units.
    defaults : dict
        Each default that was used, as text.
    question : str, optional
        Path and query that repeat the calculation; absent if longer than 2,048 characters.
    version : str
        Version of Dosewright that answered.
    """

    units: dict[str, str] = {}
    warnings: list[Warn] = []
    cautions: list[Caution] = []
    basis: list[Basis] = []
    inputs: dict[str, Any] = {}
    defaults: dict[str, str] = {}
    question: str | None = None
    version: str = __version__


K = TypeVar("K", bound=str)


class BatchAnswer(Shown, msgspec.Struct, Generic[K], kw_only=True):
    """Answer to a batch: one column a field, one entry a row.

    Attributes
    ----------
    rows : int
        Number of rows.
    columns : dict of str to array or list
        Numbers as float64 arrays (NaN in a row with errors), texts and flags as lists (None there). An array of one
        repeated number can be a read-only view.
        A field of list items is named ``list.index.field``.
    units : dict of str to str
        Unit of each numeric column.
    errors : list of Fault
        What is wrong with which rows; the other rows are answered all the same.
    warnings, cautions, basis, defaults, version
        As in a single answer; a warning names its rows.
    """

    rows: int
    columns: dict[str, Any]
    units: dict[str, str] = {}
    errors: list[Fault] = []
    warnings: list[Warn] = []
    cautions: list[Caution] = []
    basis: list[Basis] = []
    defaults: dict[str, str] = {}
    version: str = __version__

    def __getitem__(self, column: K) -> Any:
        return self.columns[column]
