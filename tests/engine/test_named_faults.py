"""Whatever is asked within the fields' bounds, those of items too, is answered or refused by the name of a field."""

from __future__ import annotations

from itertools import combinations, islice
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from answerable_requests import assert_answered_or_refused_by_name
from contract_walk import changed, quantities
from dosewright.engine.fields import MISSING
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.flag import FlagField
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import calculations
from dosewright.quantities import read

if TYPE_CHECKING:
    from collections.abc import Mapping

    from hypothesis.strategies import DrawFn

# Those of ultraviolet light have a test of their own; a plan asks the others.
PATHS = sorted(path for path in calculations() if not path.startswith("uv/") and path != "site/plan")


@st.composite
def at_the_edges(draw: DrawFn, path: str) -> dict[str, Any]:
    """Requests whose fields, and those of their items, lie at and near their bounds or the example's values."""
    entry = calculations()[path]
    return _struct(draw, reader_for(entry.request), entry.example, draw(st.sampled_from([7, 30, 200])))


def _struct(draw: DrawFn, reader: Any, example: Mapping[str, Any], seldom: int) -> dict[str, Any]:
    made: dict[str, Any] = {name: example[name] for name in ("kind", "units") if name in example}
    for field in reader.fields:
        like = example.get(field.name)
        turned = field.default is not MISSING and draw(st.integers(0, 9999)) % seldom == seldom // 2
        if turned == (like is not None):  # what is given is left out seldom, what is not is seldom added
            continue
        value = _value(draw, field, like, seldom)
        if value is not None:
            made[field.name] = value
    return made


def _value(draw: DrawFn, field: Any, like: Any, seldom: int) -> Any:
    if isinstance(field, ItemsField) and like is not None:
        items = like if field.many else [like]
        drawn = [_struct(draw, field.readers[item.get("kind", "")], item, seldom) for item in items]
        return drawn if field.many else drawn[0]
    if like is not None and draw(st.booleans()):
        return like
    if isinstance(field, MeasureField):
        return _amount(draw, field, like)
    if isinstance(field, ChoiceField):
        return like if like is not None and draw(st.integers(0, 9999)) % seldom else draw(st.sampled_from(field.names))
    return draw(st.booleans()) if isinstance(field, FlagField) else like


def _amount(draw: DrawFn, field: MeasureField, like: Any) -> Any:
    measure = field.measure
    edges: list[Any] = [text for text in (measure.at_least, measure.at_most) if text is not None]
    written = like or measure.example or field.default_text
    if written is not None:
        # Near a bound that is itself outside, and anywhere between.
        value, unit = read(written, field.kind, "metric")
        near = [value * times for times in (1e-6, 0.5, 2.0)]
        si = [unit.to_si(amount) for amount in near]
        edges += [
            f"{amount!r} {unit.symbol}".strip() for amount, size in zip(near, si, strict=True) if _in(field, size)
        ]
    return draw(st.sampled_from(edges)) if edges else written


def _in(field: MeasureField, size: float) -> bool:
    lowest, highest = field.measure.interval
    return lowest <= size <= highest


@pytest.mark.parametrize("path", PATHS)
@settings(max_examples=100, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_at_the_bounds_of_its_fields(path: str, data: st.DataObject) -> None:
    assert_answered_or_refused_by_name(path, data.draw(at_the_edges(path)))


@pytest.mark.parametrize("path", PATHS)
def test_each_two_of_its_quantities_at_their_bounds(path: str) -> None:
    entry = calculations()[path]
    ends = [
        (leaf.keys, end)
        for leaf in quantities(entry)
        for end in (leaf.field.measure.at_least, leaf.field.measure.at_most)
        if end is not None
    ]
    step = 5 if path == "pipe/largest-flow" else 1  # which is solved by trial, and takes its time
    for (one, this), (other, that) in islice(combinations(ends, 2), 0, None, step):
        if one != other:
            assert_answered_or_refused_by_name(path, changed(entry.example, {one: this, other: that}))
