"""One rule for every calculation: a worse input never gives a safer answer.

CI draws 300 requests a calculation; the long mode draws more: ``DOSEWRIGHT_SAFE_CASES=100000``.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from asgi import get
from contract_walk import ENTRIES
from dosewright.engine.directions import exceptions_of, safer_of, undirected_of, worse_of
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.fields.series import SeriesField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import calculations
from dosewright.engine.writing import answer_fields
from safe_direction import cases, contradictions, is_safer

if TYPE_CHECKING:
    from collections.abc import Iterator

    from dosewright.engine.registry import Calculation

LONG = os.environ.get("DOSEWRIGHT_SAFE_CASES")  # drawn at random; without it the same cases are drawn each time
CASES = int(LONG or "300")
COMPOSED = {"site/plan", "site/commissioning", "site/upkeep"}
DIRECTED = pytest.mark.parametrize(
    "entry",
    [entry for entry in calculations().values() if worse_of(entry.request) and safer_of(entry.answer)],
    ids=lambda entry: entry.path,
)


@DIRECTED
def test_a_worse_input_never_gives_a_safer_answer(entry: Calculation[Any, Any]):
    examples = CASES // 3 if entry.path in COMPOSED else CASES

    @settings(
        max_examples=examples,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        database=None,
        derandomize=LONG is None,
    )
    @given(case=cases(entry))
    def look(case):
        assert case is None or not contradictions(entry, case), case

    look()


def inputs(reader: Any, prefix: str = "") -> Iterator[str]:
    for field in reader.fields:
        if isinstance(field, (MeasureField, SeriesField)):
            yield prefix + field.name
        elif isinstance(field, ItemsField):
            for inner in field.readers.values():
                yield from inputs(inner, f"{prefix}{field.name}.")


def outputs(struct: type[Any]) -> Iterator[str]:
    for field in answer_fields(struct):
        if field.kind is not None or field.flag or field.name == "verdict":
            yield field.name


@ENTRIES
def test_every_input_and_output_has_a_direction_or_a_reason(entry: Calculation[Any, Any]):
    declared = {*worse_of(entry.request), *undirected_of(entry.request)}
    assert sorted(set(inputs(reader_for(entry.request))) - declared) == []
    safe = {*safer_of(entry.answer), *undirected_of(entry.answer)}
    assert sorted(set(outputs(entry.answer)) - safe) == []


@ENTRIES
def test_every_declared_name_exists_and_stands_once(entry: Calculation[Any, Any]):
    reader = reader_for(entry.request)
    names = {*inputs(reader), *(field.name for field in reader.fields if isinstance(field, ItemsField))}
    assert sorted({*worse_of(entry.request), *undirected_of(entry.request)} - names) == []
    assert not set(worse_of(entry.request)) & set(undirected_of(entry.request))
    tops = {field.name for field in answer_fields(entry.answer)}
    safe = {*safer_of(entry.answer), *undirected_of(entry.answer)}
    assert sorted({name.partition(".")[0] for name in safe} - tops) == []
    for changed, name in exceptions_of(entry.request):
        assert changed in worse_of(entry.request)
        assert name == "refused" or name in safer_of(entry.answer)


@ENTRIES
def test_the_method_sheet_shows_the_directions(entry: Calculation[Any, Any]):
    text = get(f"/methods/{entry.path}").body.decode()
    if worse_of(entry.request) or safer_of(entry.answer):
        assert "Safe directions" in text
        for name in worse_of(entry.request):
            assert f"<code>{name}</code>" in text
    for reason in exceptions_of(entry.request).values():
        assert reason in text


@given(st.data())
@settings(max_examples=20, deadline=None)
def test_the_rule_finds_an_answer_that_gets_safer(data):
    """The comparison itself is tested: a declaration turned round is caught at once."""

    high = data.draw(st.floats(1.0, 10.0))
    assert is_safer(high, high * 1.01, "higher")
    assert not is_safer(high, high * 1.01, "lower")
    assert is_safer(before=False, after=True, safe=True)
    assert is_safer("not_suitable", "suitable", ("suitable", "not_suitable"))
    assert not is_safer("suitable", "not_suitable", ("suitable", "not_suitable"))
