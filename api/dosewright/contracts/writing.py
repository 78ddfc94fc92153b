"""Answers from SI into the units asked for, and into columns for a batch."""

import typing
from collections.abc import Iterator, Mapping
from functools import cache, lru_cache
from typing import Any, NamedTuple, cast, get_args, get_origin, get_type_hints

import msgspec
import numpy as np

from dosewright.contracts.base import Answer
from dosewright.contracts.fields import Items, Measure, Part
from dosewright.faults import Fault, nearest
from dosewright.quantities import Kind, Unit, UnitProfile

__all__ = ["AnswerField", "answer_fields", "columns_of", "to_units", "unit_faults"]

_ENVELOPE = frozenset(info.name for info in msgspec.structs.fields(Answer))


class AnswerField(NamedTuple):
    """One field of an answer: its kind of quantity, or the struct of its items, or neither (text, flag)."""

    name: str
    kind: Kind | None
    struct: type[Any] | None
    many: bool
    doc: str


@cache
def answer_fields(struct: type[Any]) -> tuple[AnswerField, ...]:
    """Return the fields of an answer or of one of its items, without what all answers share.

    Raises
    ------
    TypeError
        A field has no description.
    """
    hints = get_type_hints(struct, include_extras=True)
    fields: list[AnswerField] = []
    for info in msgspec.structs.fields(struct):
        if info.name in _ENVELOPE and issubclass(struct, Answer):
            continue
        hint = hints[info.name]
        if get_origin(hint) is not typing.Annotated:
            raise TypeError(f"answer field {info.name!r} has no description")
        inner, note = hint.__origin__, hint.__metadata__[0]
        if isinstance(note, Measure):
            fields.append(AnswerField(info.name, note.quantity, None, many=False, doc=note.doc))
        elif isinstance(note, (Items, Part)):
            members = [member for member in get_args(inner) if member is not type(None)]
            item = members[0] if isinstance(note, Items) or members else inner
            item = get_origin(inner) if isinstance(note, Part) and get_origin(inner) in _STRUCTS else item
            item = get_origin(item) or item
            fields.append(AnswerField(info.name, None, item, many=isinstance(note, Items), doc=note.doc))
        else:
            fields.append(AnswerField(info.name, None, None, many=False, doc=note.doc))
    return tuple(fields)


class _Structs:
    def __contains__(self, candidate: object) -> bool:
        return isinstance(candidate, type) and issubclass(candidate, msgspec.Struct)


_STRUCTS = _Structs()


def _quantities(struct: type[Any], prefix: str = "") -> Iterator[tuple[str, Kind]]:
    for field in answer_fields(struct):
        if field.kind is not None:
            yield prefix + field.name, field.kind
        elif field.struct is not None:
            yield from _quantities(field.struct, f"{prefix}{field.name}.")


@lru_cache(maxsize=1024)
def _plan(
    struct: type[Any], profile: UnitProfile, chosen: tuple[tuple[str, str], ...]
) -> tuple[dict[str, Unit], dict[str, str]]:
    overrides = dict(chosen)
    units = {
        name: kind.lookup[overrides[name]] if name in overrides else kind.profiles[profile]
        for name, kind in _quantities(struct)
    }
    return units, {name: unit.symbol for name, unit in units.items() if unit.symbol}


def units_for(
    struct: type[Any], profile: UnitProfile | None, chosen: Mapping[str, str] | None
) -> tuple[dict[str, Unit], dict[str, str]]:
    """Return the unit of each numeric field, and the same as symbols for the answer."""
    return _plan(struct, profile or "metric", tuple(chosen.items()) if chosen else ())


def unit_faults(struct: type[Any], chosen: Mapping[str, str] | None) -> Iterator[Fault]:
    """Yield what is wrong with the units a caller chose for single answer fields."""
    if not chosen:
        return
    kinds = dict(_quantities(struct))
    for name, symbol in chosen.items():
        pointer = f"/answer_units/{name}"
        kind = kinds.get(name)
        if kind is None:
            guess = nearest(name, tuple(kinds))
            hint = f" Did you mean {guess!r}?" if guess else ""
            message = f"{name!r} is not a numeric field of this answer.{hint}"
            yield Fault(pointer=pointer, code="unknown_field", message=message, allowed=list(kinds))
        elif symbol not in kind.lookup:
            guess = nearest(symbol, tuple(kind.lookup))
            hint = f" Did you mean {guess!r}?" if guess else ""
            message = f"{symbol!r} is not a unit for {name}.{hint}"
            yield Fault(pointer=pointer, code="unit_unknown", message=message, given=symbol, allowed=list(kind.symbols))


def to_units(struct: Any, units: Mapping[str, Unit], prefix: str = "") -> None:
    """Bring the numbers of a scalar answer into their units, in place, as plain floats."""
    for name, kind, inner, many, _ in answer_fields(cast("type[Any]", type(struct))):
        value = getattr(struct, name)
        if value is None:
            continue
        if kind is not None:
            unit = units[prefix + name]
            # Division and offset as Unit.from_si; written out since every answer passes here.
            value = float(value) / unit.factor
            setattr(struct, name, value - unit.offset if unit.offset else value)
        elif inner is not None:
            for item in cast("list[Any]", value) if many else (value,):
                to_units(item, units, f"{prefix}{name}.")
        elif type(value) is np.bool_:
            setattr(struct, name, bool(value))


def columns_of(struct: Any, units: Mapping[str, Unit], prefix: str = "", label: str = "") -> Iterator[tuple[str, Any]]:
    """Yield (column name, value) of an answer that holds arrays, in its units; items are numbered in the name."""
    for name, kind, inner, many, _ in answer_fields(cast("type[Any]", type(struct))):
        value = getattr(struct, name)
        if kind is not None:
            converted = np.nan if value is None else units[prefix + name].from_si(value)
            yield label + name, converted
        elif inner is not None and many:
            for index, item in enumerate(value):
                yield from columns_of(item, units, f"{prefix}{name}.", f"{label}{name}.{index}.")
        elif inner is not None:
            if value is not None:
                yield from columns_of(value, units, f"{prefix}{name}.", f"{label}{name}.")
        else:
            yield label + name, value
