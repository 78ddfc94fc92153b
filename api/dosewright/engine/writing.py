"""Answers from SI into the requested units, and into columns for a batch."""

import itertools
import typing
from collections.abc import Iterator, Mapping
from functools import cache, lru_cache
from typing import Any, cast, get_origin, get_type_hints

import msgspec
import numpy as np

from dosewright.engine.base import Answer
from dosewright.engine.faults import MOST_FAULTS, Fault, RequestRefused, pointer_to
from dosewright.engine.fields.field import AnswerField, Description, strip_none
from dosewright.quantities import Kind, Unit, UnitProfile, shortened
from dosewright.quantities.spelling import nearest

__all__ = ["ENVELOPE", "AnswerField", "AnswerUnits", "answer_fields", "columns_of", "not_finite", "unit_faults"]

ENVELOPE = frozenset(info.name for info in msgspec.structs.fields(Answer))


@cache
def answer_fields(struct: type[Any]) -> tuple[AnswerField, ...]:
    """Return the fields of an answer or of one of its items, without what all answers share.

    Raises
    ------
    TypeError
        A field has no description.
    """
    hints = get_type_hints(struct, include_extras=True)
    names = [info.name for info in msgspec.structs.fields(struct)]
    return tuple(
        _answer_field(name, hints[name]) for name in names if not (name in ENVELOPE and issubclass(struct, Answer))
    )


def _answer_field(name: str, hint: Any) -> AnswerField:
    if get_origin(hint) is not typing.Annotated:
        raise TypeError(f"answer field {name!r} has no description")
    _, optional = strip_none(hint.__origin__)
    note: Description = hint.__metadata__[0]
    return note.answer_field(name, hint.__origin__, optional=optional)


def _quantities(struct: type[Any], prefix: str = "") -> Iterator[tuple[str, Kind]]:
    for field in answer_fields(struct):
        if field.kind is not None:
            yield prefix + field.name, field.kind
        elif field.struct is not None:
            yield from _quantities(field.struct, f"{prefix}{field.name}.")


@cache
def numeric_names(struct: type[Any]) -> frozenset[str]:
    """Return the names of an answer's numeric fields; those of list items as ``list.field``."""
    return frozenset(name for name, _ in _quantities(struct))


class AnswerUnits:
    """The units of one answer type, resolved once for a profile and the units chosen for single fields.

    Attributes
    ----------
    units : dict of str to Unit
        By field name; fields of list items are named ``list.field``.
    symbols : dict of str to str
        The same as an answer lists it, without plain numbers.
    """

    __slots__ = ("_flags", "_numbers", "_parts", "symbols", "units")

    def __init__(self, struct: type[Any], units: dict[str, Unit], prefix: str = "") -> None:
        self.units = units
        self.symbols = {name: unit.symbol for name, unit in units.items() if unit.symbol}
        own = answer_fields(struct)
        of_own = {field.name: units[prefix + field.name] for field in own if field.kind is not None}
        self._numbers = tuple(
            (field.name, unit.divisor, unit.factor, unit.offset, field.optional, prefix + field.name)
            for field in own
            if (unit := of_own.get(field.name)) is not None
        )
        self._parts = tuple(
            (field.name, field.many, AnswerUnits(field.struct, units, f"{prefix}{field.name}."))
            for field in own
            if field.struct is not None
        )
        self._flags = tuple(field.name for field in own if field.flag)

    def apply(self, struct: Any) -> None:  # noqa: C901 - one loop, kept flat for speed
        """Bring the numbers of a scalar answer into their units, in place, as plain floats.

        Raises
        ------
        RequestRefused
            A number is not finite. In an optional field, NaN means absent.
        """
        for name, divisor, factor, offset, optional, full_name in self._numbers:
            value = getattr(struct, name)
            if value is None:
                continue
            # As Unit.from_si; written out since every number of every answer passes here.
            value = float(value) * divisor / factor
            if value - value != 0.0:
                if not (optional and value != value):
                    raise RequestRefused([not_finite(full_name)])
                value = None
            elif offset:
                value -= offset
            setattr(struct, name, value)
        for name in self._flags:
            value = getattr(struct, name)
            if type(value) is np.bool_:
                setattr(struct, name, bool(value))
        for name, many, inner in self._parts:
            value = getattr(struct, name)
            for item in (value or ()) if many else (value,):
                if item is not None:
                    inner.apply(item)


@lru_cache(maxsize=1024)
def _answer_units(struct: type[Any], profile: UnitProfile, chosen: tuple[tuple[str, str], ...]) -> AnswerUnits:
    overrides = dict(chosen)
    units = {
        name: kind.lookup[overrides[name]] if name in overrides else kind.profiles[profile]
        for name, kind in _quantities(struct)
    }
    return AnswerUnits(struct, units)


def units_for(struct: type[Any], profile: UnitProfile | None, chosen: Mapping[str, str] | None) -> AnswerUnits:
    """Return the units an answer is to be written in."""
    return _answer_units(struct, profile or "metric", tuple(chosen.items()) if chosen else ())


def unit_faults(struct: type[Any], chosen: Mapping[str, str] | None) -> Iterator[Fault]:
    """Yield the faults of the units a caller chose for single answer fields."""
    if not chosen:
        return
    kinds = dict(_quantities(struct))
    for name, symbol in itertools.islice(chosen.items(), MOST_FAULTS):
        pointer = pointer_to("/answer_units/", name)
        kind = kinds.get(name)
        if kind is None:
            guess = nearest(name, tuple(kinds))
            hint = f" Did you mean {guess!r}?" if guess else ""
            message = f"{shortened(name)!r} is not a numeric field of this answer.{hint}"
            yield Fault(pointer=pointer, code="unknown_field", message=message, allowed=list(kinds))
        elif symbol not in kind.lookup:
            guess = nearest(symbol, tuple(kind.lookup))
            hint = f" Did you mean {guess!r}?" if guess else ""
            message = f"{shortened(symbol)!r} is not a unit for {name}.{hint}"
            allowed = list(kind.symbols)
            yield Fault(pointer=pointer, code="unit_unknown", message=message, given=shortened(symbol), allowed=allowed)
    if len(chosen) > len(kinds):
        message = f"Units are chosen for more fields than this answer has ({len(kinds)})."
        yield Fault(pointer="/answer_units", code="out_of_range", message=message, allowed=list(kinds))


def not_finite(name: str, rows: list[int] | None = None) -> Fault:
    """Return the fault of a result that is beyond any number, from inputs far outside what can be built."""
    message = f"{name} overflowed: check the units of the inputs."
    return Fault(pointer="", code="result_not_finite", message=message, rows=rows)


def columns_of(
    struct: Any, units: Mapping[str, Unit], prefix: str = "", label: str = ""
) -> Iterator[tuple[str, Any, Unit | None, bool]]:
    """Yield (column name, SI value, its unit, optional) of an answer that holds arrays.

    The unit is None for texts and flags. Items are numbered in the name.
    """
    for field in answer_fields(cast("type[Any]", type(struct))):
        name, inner = field.name, field.struct
        value = getattr(struct, name)
        if field.kind is not None:
            yield label + name, value, units[prefix + name], field.optional
        elif inner is not None and field.many:
            for index, item in enumerate(value):
                yield from columns_of(item, units, f"{prefix}{name}.", f"{label}{name}.{index}.")
        elif inner is not None:
            if value is not None:
                yield from columns_of(value, units, f"{prefix}{name}.", f"{label}{name}.")
        else:
            yield label + name, value, None, True
