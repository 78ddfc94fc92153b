"""A batch is the single calls, bit for bit, in columns; rows at fault are told apart from good ones."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given

from asgi import post
from contract_walk import BATCHED, FEW, Leaf, changed, choices, numbers, own_leaves, quantities, span, with_more
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.engine.writing import answer_fields
from dosewright.quantities import PROFILES, Quantity

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dosewright.engine.base import BatchAnswer
    from dosewright.engine.registry import Calculation

MOST_ROWS = 5
NONSENSE = "nonsense"


def plain(column: Any) -> list[Any]:
    """Return a column as JSON holds it."""
    values = column.tolist() if isinstance(column, np.ndarray) else list(column)
    return [None if isinstance(value, float) and math.isnan(value) else value for value in values]


def bits(value: Any) -> Any:
    """Return a value so that two are equal only if every bit is."""
    return value.hex() if type(value) is float else (type(value), value)


class Column:
    """One column: as a batch takes it, and as each row's single request takes it."""

    def __init__(self, leaf: Leaf, column: Any, singles: list[Any]) -> None:
        self.leaf = leaf
        self.column = column
        self.singles = singles


@st.composite
def columns(draw: st.DrawFn, leaf: Leaf, rows: int, profile: str | None) -> Column:
    """Draw a column near an example's value in one of the ways to write one; some rows may be at fault."""
    kind = leaf.field.kind
    low, high = span(leaf)
    near = st.lists(st.floats(low, high), min_size=rows, max_size=rows)
    beyond = draw(st.lists(st.sampled_from([False] * 9 + [True]), min_size=rows, max_size=rows), label="at fault")
    ways = ["texts", "pair", "array"] + (["bare"] if profile or not kind.symbols else [])
    way = draw(st.sampled_from(ways), label="way")
    values = draw(near, label="SI values")
    if way == "texts":
        units = [kind.lookup[draw(st.sampled_from(kind.symbols or ("",)))] for _ in range(rows)]
        texts = [f"{unit.from_si(si)!r} {unit.symbol}".strip() for si, unit in zip(values, units, strict=True)]
        texts = [NONSENSE if wrong else text for text, wrong in zip(texts, beyond, strict=True)]
        return Column(leaf, texts, texts)
    unit = kind.profiles[profile or "metric"]
    numbers = [math.nan if wrong else unit.from_si(si) for si, wrong in zip(values, beyond, strict=True)]
    if way == "bare" or not unit.symbol:
        return Column(leaf, np.array(numbers) if way == "array" else numbers, numbers)
    singles = [{"value": number, "unit": unit.symbol} for number in numbers]
    if way == "array":
        return Column(leaf, Quantity(np.array(numbers), unit.symbol), singles)
    return Column(leaf, {"value": numbers, "unit": unit.symbol}, singles)


@st.composite
def names(draw: st.DrawFn, leaf: Leaf, rows: int) -> Column:
    """Draw a column of names."""
    drawn = draw(st.lists(st.sampled_from(leaf.field.names), min_size=rows, max_size=rows), label=leaf.pointer)
    return Column(leaf, drawn, drawn)


def assert_rows_are_the_single_calls(
    entry: Calculation[Any, Any], base: Mapping[str, Any], drawn: list[Column], rows: int
) -> None:
    singles = [outcome(entry, changed(base, {one.leaf.keys: one.singles[row] for one in drawn})) for row in range(rows)]
    try:
        batch = run_batch(entry.path, changed(base, {one.leaf.keys: one.column for one in drawn}))
    except RequestRefused as refusal:
        told = {(fault.pointer, fault.code) for fault in refusal.faults}
        for single in singles:
            assert isinstance(single, RequestRefused), f"refused as a whole for {told}, but a row is good"
        return
    assert batch.rows == rows
    for row, single in enumerate(singles):
        assert_row(batch, row, single)
    good = [single for single in singles if not isinstance(single, RequestRefused)]
    for told, per_row in ((batch.basis, "basis"), (batch.cautions, "cautions")):
        # What a row that was refused late would have rested on may be told too.
        assert set(told) >= {one for single in good for one in getattr(single, per_row)}
        assert len(told) == len(set(told))
        assert good or not told
    assert {warning.code for warning in batch.warnings} == {w.code for single in good for w in single.warnings}


def outcome(entry: Calculation[Any, Any], payload: Mapping[str, Any]) -> Any:
    try:
        return run(entry.path, payload)
    except RequestRefused as refusal:
        return refusal


def _action(message: str) -> str:
    """Return the last sentence of a message."""
    return message.rpartition(". ")[2]


def assert_row(batch: BatchAnswer[Any], row: int, single: Any) -> None:
    at_fault = [fault for fault in batch.errors if row in (fault.rows or ())]
    held = {name: plain(column)[row] for name, column in batch.columns.items()}
    if isinstance(single, RequestRefused):
        assert at_fault, [str(fault) for fault in single.faults]
        assert {fault.pointer for fault in at_fault} & {fault.pointer for fault in single.faults}
        assert set(held.values()) <= {None}
        return
    assert not at_fault
    expected = own_leaves(single)
    for name in {*expected, *held}:
        value = expected.get(name)
        assert bits(held.get(name)) == bits(value), (name, held.get(name), value)
    # A message of a batch serves many rows, so that it leaves out the numbers of one; what to do stays the same.
    here = {(w.code, w.field, _action(w.message)) for w in batch.warnings if w.rows is None or row in w.rows}
    assert here == {(w.code, w.field, _action(w.message)) for w in single.warnings}
    assert batch.defaults == single.defaults
    assert {name: batch.units[name] for name in single.units} == single.units


@BATCHED
@FEW
@given(data=st.data())
def test_each_row_is_its_single_call_bit_for_bit(entry: Calculation[Any, Any], data: st.DataObject) -> None:
    more = data.draw(with_more(entry), label="more")
    leaves = [*quantities(entry), *(leaf for leaf in more if isinstance(leaf.field, MeasureField))]
    rows = data.draw(st.integers(1, MOST_ROWS), label="rows")
    profile = data.draw(st.sampled_from([None, *PROFILES]), label="profile")
    chosen = data.draw(st.lists(st.sampled_from(leaves), min_size=1, unique_by=lambda leaf: leaf.keys), label="columns")
    drawn = [data.draw(columns(leaf, rows, profile), label=leaf.pointer) for leaf in chosen]
    base = {
        **changed(entry.example, {leaf.keys: leaf.given for leaf in more}),
        **({"units": profile} if profile else {}),
    }
    assert_rows_are_the_single_calls(entry, base, drawn, rows)


@BATCHED
@FEW
@given(data=st.data())
def test_a_name_a_row_is_its_single_call_too(entry: Calculation[Any, Any], data: st.DataObject) -> None:
    more = data.draw(with_more(entry), label="more")
    leaves = [*choices(entry), *(leaf for leaf in more if isinstance(leaf.field, ChoiceField))]
    if not leaves:
        return
    rows = data.draw(st.integers(1, MOST_ROWS), label="rows")
    chosen = data.draw(st.lists(st.sampled_from(leaves), min_size=1, unique_by=lambda leaf: leaf.keys), label="names")
    drawn = [data.draw(names(leaf, rows)) for leaf in chosen]
    quantity = data.draw(st.sampled_from(quantities(entry)), label="beside")
    drawn.append(data.draw(columns(quantity, rows, None), label=quantity.pointer))
    base = changed(entry.example, {leaf.keys: leaf.given for leaf in more})
    assert_rows_are_the_single_calls(entry, base, drawn, rows)


@BATCHED
def test_every_quantity_of_the_example_may_be_a_column(entry: Calculation[Any, Any]) -> None:
    for leaf in quantities(entry):
        batch = run_batch(entry.path, changed(entry.example, {leaf.keys: [leaf.given, NONSENSE, leaf.given]}))
        expected = own_leaves(run(entry.path, entry.example))
        assert [(fault.pointer, fault.rows) for fault in batch.errors] == [(leaf.pointer, [1])]
        for name, column in batch.columns.items():
            assert plain(column) == [expected[name], None, expected[name]], (leaf.pointer, name)


@BATCHED
def test_without_a_column_a_batch_is_one_row(entry: Calculation[Any, Any]) -> None:
    batch = run_batch(entry.path, entry.example)
    assert batch.rows == 1
    assert_row(batch, 0, run(entry.path, entry.example))


@BATCHED
def test_columns_of_different_length_are_refused(entry: Calculation[Any, Any]) -> None:
    first, second, *_ = quantities(entry)
    payload = changed(entry.example, {first.keys: [first.given] * 2, second.keys: [second.given] * 3})
    with pytest.raises(RequestRefused) as caught:
        run_batch(entry.path, payload)
    (fault,) = caught.value.faults
    assert fault.code == "rows_differ"
    assert fault.pointer == second.pointer
    assert re.search(r"\b3 rows\b.*\b2\b", fault.message)


@BATCHED
def test_all_faults_of_a_batch_as_a_whole_are_told_at_once(entry: Calculation[Any, Any]) -> None:
    first, second, *_ = quantities(entry)
    payload = {
        **changed(entry.example, {first.keys: [], second.keys: [second.given, [second.given]]}),
        "nothing": 1,
        "units": "imperial",
        "answer_units": {"nothing": "m"},
    }
    with pytest.raises(RequestRefused) as caught:
        run_batch(entry.path, payload)
    told = {fault.pointer for fault in caught.value.faults}
    assert {first.pointer, "/nothing", "/units", "/answer_units/nothing"} <= told


@BATCHED
def test_a_column_in_a_single_request_is_sent_to_the_batch(entry: Calculation[Any, Any]) -> None:
    for leaf in quantities(entry):
        for column in ([leaf.given], [1.0, 2.0], [], {"value": [1.0], "unit": (leaf.field.kind.symbols or ("",))[0]}):
            with pytest.raises(RequestRefused) as caught:
                run(entry.path, changed(entry.example, {leaf.keys: column}))
            assert [(fault.pointer, fault.code) for fault in caught.value.faults] == [(leaf.pointer, "not_a_batch")]


@BATCHED
@pytest.mark.parametrize("profile", PROFILES)
def test_a_batch_answers_in_the_profile_asked_for(entry: Calculation[Any, Any], profile: Any) -> None:
    leaf = quantities(entry)[0]
    payload = {**changed(entry.example, {leaf.keys: [leaf.given] * 2}), "units": profile}
    batch = run_batch(entry.path, payload)
    single = run(entry.path, {**entry.example, "units": profile})
    assert {name: batch.units[name] for name in single.units} == single.units
    for name, value in own_leaves(single).items():
        assert plain(batch.columns[name]) == [value, value] if name in batch.columns else value is None, name


@BATCHED
def test_answer_units_change_a_column(entry: Calculation[Any, Any]) -> None:
    leaf = quantities(entry)[0]
    own = [(name, kind) for name, kind in numbers(entry.answer) if len(kind.symbols) > 1 and "." not in name]
    payload = changed(entry.example, {leaf.keys: [leaf.given] * 2})
    for name, symbol in ((name, symbol) for name, kind in own[:1] for symbol in kind.symbols):
        asked = {"answer_units": {name: symbol}}
        batch = run_batch(entry.path, {**payload, **asked})
        assert batch.units[name] == symbol
        assert plain(batch.columns[name]) == [getattr(run(entry.path, {**entry.example, **asked}), name)] * 2


@BATCHED
def test_the_service_answers_a_batch_as_a_call_in_process(entry: Calculation[Any, Any]) -> None:
    leaf = quantities(entry)[0]
    payload = changed(entry.example, {leaf.keys: [leaf.given, NONSENSE]})
    reply = post(f"/v1/{entry.path}/batch", payload)
    assert reply.status == 200
    told, here = reply.json(), run_batch(entry.path, payload)
    assert told["columns"] == {name: plain(column) for name, column in here.columns.items()}
    assert [fault["rows"] for fault in told["errors"]] == [[1]]
    assert told["units"] == here.units
    assert told["version"] == here.version


@BATCHED
def test_a_batch_in_which_every_row_is_at_fault_is_answered(entry: Calculation[Any, Any]) -> None:
    leaf = quantities(entry)[0]
    batch = run_batch(entry.path, changed(entry.example, {leaf.keys: [NONSENSE] * 3}))
    assert batch.rows == 3
    assert [fault.rows for fault in batch.errors] == [[0, 1, 2]]
    single = {field.name for field in answer_fields(entry.answer) if field.struct is None}
    assert set(batch.columns) == single
    for column in batch.columns.values():
        assert plain(column) == [None] * 3


@pytest.mark.parametrize("rows", [65_535, 65_536, 65_537, 140_000])
def test_chunks_leave_no_seam(rows: int) -> None:
    rng = np.random.default_rng(7)
    flow = rng.uniform(1.0, 60.0, rows)
    faulty = sorted({0, 65_530, rows - 1})
    flow[faulty] = np.nan
    payload = {"flow": Quantity(flow, "L/min"), "bore": "20 mm"}
    batch = run_batch("pipe/velocity", payload)
    whole = plain(batch["velocity"])
    for row in (1, 65_533, rows - 2, rows // 2, min(65_536, rows - 2)):
        single = run("pipe/velocity", {"flow": {"value": float(flow[row]), "unit": "L/min"}, "bore": "20 mm"})
        assert whole[row] == single.velocity
    (fault,) = batch.errors
    assert fault.rows == faulty
    assert [row for row, value in enumerate(whole) if value is None] == faulty


def test_answers_of_different_form_leave_nothing_in_each_others_rows() -> None:
    payload = {"vessels": [{"kind": "plain_volume", "volume": "200 L"}], "free_chlorine": "100 mg/L"}
    products = ["household_bleach_6", "calcium_hypochlorite_65", "sodium_hypochlorite_12_trade"]
    for order in (products, products[::-1]):
        batch = run_batch("chlorine/shock", {**payload, "product": {"kind": "listed", "name": order}})
        singles = [run("chlorine/shock", {**payload, "product": {"kind": "listed", "name": name}}) for name in order]
        for row, single in enumerate(singles):
            assert_row(batch, row, single)


def test_a_name_that_does_not_fit_is_told_in_its_row() -> None:
    batch = run_batch(
        "pipe/velocity",
        {
            "flow": ["9 gal/min"] * 4,
            "material": ["copper_type_l", "pex_sdr9", "no_such_material", "copper_type_l"],
            "nominal_size": ["3/4", "4", "3/4", "1"],
        },
    )
    assert [(fault.pointer, fault.code, fault.rows) for fault in batch.errors] == [
        ("/material", "unknown_choice", [2]),
        ("/nominal_size", "unknown_choice", [1]),
    ]
    good = [
        run("pipe/velocity", {"flow": "9 gal/min", "material": "copper_type_l", "nominal_size": size})
        for size in ("3/4", "1")
    ]
    assert plain(batch["velocity"]) == [good[0].velocity, None, None, good[1].velocity]
    assert plain(batch["regime"]) == [good[0].regime, None, None, good[1].regime]


def test_every_calculation_is_registered_for_these_tests() -> None:
    assert len(calculations()) >= 3
