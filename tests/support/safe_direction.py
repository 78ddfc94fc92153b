"""Makes one input of a request worse, as its contract declares, and compares what the two answers say of safety."""

from __future__ import annotations

import copy
import math
from typing import TYPE_CHECKING, Any, NamedTuple

import msgspec
from hypothesis import strategies as st

from dosewright.engine.directions import exceptions_of, safer_of, worse_of
from dosewright.engine.faults import RequestRefused
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.run import answer
from dosewright.quantities import read
from strategies import requests_near

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hypothesis.strategies import DrawFn

    from dosewright.engine.registry import Calculation

REFUSED = "refused"
UNREADABLE = "unreadable"
RELATIVE = 1e-9  # what arithmetic leaves; no direction is judged below it


class Case(NamedTuple):
    """A request, the same with one input worse, and that input's name."""

    request: dict[str, Any]
    worse: dict[str, Any]
    changed: str


class Place(NamedTuple):
    """Where a quantity stands in a request."""

    name: str
    keys: tuple[str | int, ...]
    field: MeasureField | ItemsField


def places(entry: Calculation[Any, Any], request: dict[str, Any]) -> Iterator[Place]:
    """Yield the quantities of a request that have a worse direction."""
    declared = worse_of(entry.request)
    for place in _measures(reader_for(entry.request), request, "", ()):
        if place.name in declared:
            yield place


def _measures(reader: Any, value: dict[str, Any], prefix: str, at: tuple[str | int, ...]) -> Iterator[Place]:
    for field in reader.fields:
        given = value.get(field.name)
        if given is None:
            continue
        if isinstance(field, MeasureField):
            yield Place(prefix + field.name, (*at, field.name), field)
        elif isinstance(field, ItemsField):
            if field.many and len(given) < field.items.at_most:
                yield Place(prefix + field.name, (*at, field.name), field)
            items = list(enumerate(given)) if field.many else [(None, given)]
            for index, item in items:
                keys = (*at, field.name) if index is None else (*at, field.name, index)
                inner = field.readers[item.get("kind", "") if "" not in field.readers else ""]
                yield from _measures(inner, item, f"{prefix}{field.name}.", keys)


@st.composite
def cases(draw: DrawFn, entry: Calculation[Any, Any]) -> Case | None:
    """Draw a request near the example, and make one declared input worse; None where it has none to change."""
    request = draw(requests_near(entry))
    found = sorted(places(entry, request), key=lambda place: place.keys.__repr__())
    if not found:
        return None
    place = draw(st.sampled_from(found))
    factor = draw(st.floats(0.01, 3.0))
    worse = copy.deepcopy(request)
    inner: Any = worse
    for key in place.keys[:-1]:
        inner = inner[key]
    given = inner[place.keys[-1]]
    if isinstance(place.field, ItemsField):  # one more of what is there
        given.append(copy.deepcopy(draw(st.sampled_from(given))))
        return Case(request, worse, place.name)
    value, unit = read(given, place.field.kind, request.get("units") or "metric")
    si = _worse(float(unit.to_si(value)), worse_of(entry.request)[place.name], place.field, factor)
    inner[place.keys[-1]] = _written(unit.from_si(si), unit.symbol)
    return Case(request, worse, place.name)


def _worse(si: float, direction: str, field: MeasureField, factor: float) -> float:
    lowest, highest = field.lowest, field.highest
    if field.kind.dimension == "temperature":
        moved = si + 10.0 * factor if direction == "higher" else si - 10.0 * factor
    elif field.kind.dimension == "plain" and si == int(si):
        moved = si + math.ceil(3 * factor) if direction == "higher" else si - math.ceil(factor)
    elif direction == "higher":
        moved = si * (1.0 + factor) if math.isinf(highest) or highest > si * (1 + factor) else si + (highest - si) / 2
    else:
        moved = si / (1.0 + factor)
    return min(max(moved, lowest), highest)


def _written(value: Any, symbol: str) -> Any:
    return {"value": float(value), "unit": symbol} if symbol else float(value)


def contradictions(entry: Calculation[Any, Any], case: Case) -> list[str]:
    """Return each output that reads as safer though the input is worse, unless it is a listed exception."""
    listed = exceptions_of(entry.request)
    before, after = _outcome(entry, case.request), _outcome(entry, case.worse)
    if after in (REFUSED, UNREADABLE) or before == UNREADABLE:
        return []
    if before == REFUSED:
        passing = [name for name, safe in safer_of(entry.answer).items() if _passes(after.get(name), safe)]
        return [f"refused before, {name} passes now" for name in passing if (case.changed, REFUSED) not in listed]
    return [
        f"{name}: {before.get(name)} became {after.get(name)}"
        for name, safe in safer_of(entry.answer).items()
        if is_safer(before.get(name), after.get(name), safe) and (case.changed, name) not in listed
    ]


def _outcome(entry: Calculation[Any, Any], request: dict[str, Any]) -> Any:
    try:
        given = msgspec.to_builtins(answer(entry, request, profile="si"))
    except RequestRefused as refusal:
        # A value outside a field's bounds is no statement on safety.
        return UNREADABLE if {fault.code for fault in refusal.faults} == {"out_of_range"} else REFUSED
    flat = dict(given)
    for name, inner in given.items():
        if isinstance(inner, dict):
            flat.update({f"{name}.{key}": value for key, value in inner.items()})
    return flat


def _passes(value: Any, safe: Any) -> bool:
    if isinstance(safe, bool):
        return value is safe
    return isinstance(safe, tuple) and value == safe[0]


def is_safer(before: Any, after: Any, safe: Any) -> bool:
    if isinstance(safe, bool):
        return after is safe and before is not safe
    if isinstance(safe, tuple):
        return after in safe and before in safe and safe.index(after) < safe.index(before)
    if not isinstance(before, float) or not isinstance(after, float):
        return False
    gain = after - before if safe == "higher" else before - after
    return gain > RELATIVE * max(abs(before), abs(after)) + 1e-12
