"""Requests near a calculation's example: other amounts, other units, other optional fields, within each field's bounds.

Random data that merely fits a schema is nearly always refused, so that little of a calculation would ever run.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from dosewright.engine.fields import MISSING
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.flag import FlagField
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.reading.reader import reader_for
from dosewright.quantities import PROFILES, read

if TYPE_CHECKING:
    from collections.abc import Mapping

    from hypothesis.strategies import DrawFn, SearchStrategy

    from dosewright.engine.registry import Calculation

IN_ITEMS = 39  # a list has many fields, and one that is missing refuses the whole request
NARROW = 50.0  # bounds whose ratio is below this are used whole; wider ones say little of what is usual


def requests_near(entry: Calculation[Any, Any]) -> SearchStrategy[dict[str, Any]]:
    """Return a strategy of JSON requests of a calculation."""
    return _request(entry)


@st.composite
def _request(draw: DrawFn, entry: Calculation[Any, Any]) -> dict[str, Any]:
    made = _struct(draw, reader_for(entry.request), entry.example)
    profile = draw(st.sampled_from([None, *PROFILES]))
    return {**made, "units": profile} if profile else made


def _struct(draw: DrawFn, reader: Any, example: Mapping[str, Any], seldom: int = 9) -> dict[str, Any]:
    """Return an object near an example; one optional field in `seldom` + 1 is left out, or added."""
    made: dict[str, Any] = {"kind": example["kind"]} if "kind" in example else {}
    for field in reader.fields:
        like = example.get(field.name)
        if like is None and isinstance(field, MeasureField) and draw(st.integers(0, seldom)) == 0:
            like = field.measure.example
        if like is None or (field.default is not MISSING and draw(st.integers(0, seldom)) == 0):
            continue
        made[field.name] = _value(draw, field, like)
    return {**{name: example[name] for name in example if name in reader.known and name not in made}, **made}


def _value(draw: DrawFn, field: Any, like: Any) -> Any:
    if isinstance(field, MeasureField):
        return _quantity(draw, field, like)
    if isinstance(field, ChoiceField):
        # A choice seldom fits every other field: most requests keep the example's, so that they are answered.
        return like if draw(st.integers(0, 3)) else draw(st.sampled_from(field.names))
    if isinstance(field, FlagField):
        return draw(st.booleans())
    if isinstance(field, ItemsField):
        if not field.many:
            return _struct(draw, _reader(field, like), like, IN_ITEMS)
        items = [_struct(draw, _reader(field, item), item, IN_ITEMS) for item in like]
        kept = draw(st.lists(st.sampled_from(items), min_size=max(1, field.items.at_least), max_size=5, unique_by=id))
        return items if draw(st.booleans()) else kept
    return like


def _reader(field: ItemsField, item: Mapping[str, Any]) -> Any:
    return field.readers[item.get("kind", "")] if "" not in field.readers else field.readers[""]


def _quantity(draw: DrawFn, field: MeasureField, like: Any) -> Any:
    value, unit = read(like, field.kind, "metric")
    if field.kind.dimension == "plain" and value == int(value):
        return draw(st.integers(1, 2 * max(1, int(value))))
    si = _amount(draw, field, float(unit.to_si(value)))
    if field.kind.dimension == "plain":
        return draw(st.sampled_from([si, repr(si)]))
    other = draw(st.sampled_from(sorted({unit.symbol for unit in field.kind.lookup.values()})))
    there = float(field.kind.lookup[other].from_si(si))
    apart = " " if other[0].isdigit() else draw(st.sampled_from(["", " "]))
    return draw(st.sampled_from([f"{there!r}{apart}{other}", {"value": there, "unit": other}]))


def _amount(draw: DrawFn, field: MeasureField, like: float) -> float:
    """Return an amount near another, in SI, or that one where this would leave the field's bounds."""
    low, high = field.lowest, field.highest
    if draw(st.booleans()):
        return like
    if field.kind.dimension == "temperature":
        amount = like + draw(st.floats(-8.0, 15.0))
    elif low > 0.0 and high < NARROW * low:
        amount = draw(st.floats(low, high))
    else:
        amount = like * draw(st.floats(0.8, 1.25))
    return amount if low <= amount <= high else like
