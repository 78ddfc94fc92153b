"""What every calculation promises: one answer through every door, in any unit, for any way to ask."""

from __future__ import annotations

import contextvars
import re
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

import hypothesis.strategies as st
import msgspec
import numpy as np
import pytest
from hypothesis import given

from asgi import Reply, get, post
from contract_walk import (
    ENTRIES,
    FEW,
    all_numbers,
    as_query,
    changed,
    every_field,
    numbers,
    own_leaves,
    quantities,
    top_fields,
    typed,
    values_near,
    with_more,
)
from dosewright import __version__
from dosewright.engine.faults import RequestRefused
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.fields.section import SectionField
from dosewright.engine.registry import find
from dosewright.engine.run import quieten, run
from dosewright.quantities import PROFILES, read
from dosewright.tables import table
from dosewright_sdk import InProcess

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dosewright.engine.registry import Calculation
    from dosewright.quantities import Kind

Entry = "Calculation[Any, Any]"
CAUTIONS = {row["code"]: row["message"] for row in table("cautions").rows}


def address(entry: Calculation[Any, Any]) -> str:
    return f"/v1/{entry.path}"


def fetch(entry: Calculation[Any, Any], payload: Mapping[str, Any]) -> Reply:
    return get(f"{address(entry)}?{urlencode(as_query(entry, payload), quote_via=quote)}")


def in_process(entry: Calculation[Any, Any], payload: Mapping[str, Any]) -> Any:
    topic = getattr(InProcess(), entry.topic)
    return getattr(topic, entry.name.replace("-", "_"))(**payload)


def physics(entry: Calculation[Any, Any], answer: Any) -> dict[str, Any]:
    """Return an answer's own values, its numbers in SI."""
    kinds = dict(all_numbers(entry.answer))
    values = own_leaves(answer)
    for name, value in values.items():
        field = re.sub(r"\.\d+\.", ".", name)
        if isinstance(value, float):
            kind: Kind = kinds[field]
            values[name] = kind.lookup[answer.units.get(field, "")].to_si(value)
    return values


def assert_same_physics(first: dict[str, Any], second: dict[str, Any]) -> None:
    assert first.keys() == second.keys()
    for name, value in first.items():
        if name.endswith(".reported"):
            continue  # a result as it was written, in its own unit
        if isinstance(value, float):
            assert second[name] == pytest.approx(value, rel=1e-12, abs=1e-300), name
        else:
            assert second[name] == value, name


@ENTRIES
@pytest.mark.parametrize("units", [None, *PROFILES])
def test_the_example_is_answered_alike_through_every_door(entry: Calculation[Any, Any], units: str | None) -> None:
    payload = {**entry.example, **({"units": units} if units else {})}
    posted, fetched = post(address(entry), payload), fetch(entry, payload)
    assert posted.status == 200, posted.body
    assert fetched.body == posted.body
    answer = run(entry.path, payload)
    assert type(answer) is entry.answer
    assert msgspec.to_builtins(answer) == posted.json()
    assert in_process(entry, payload) == answer


@ENTRIES
def test_a_request_built_from_its_types_is_the_request_as_plain_data(entry: Calculation[Any, Any]) -> None:
    given_fields = [field for field in top_fields(entry) if field.name in entry.example]
    items = {field.name: typed(field, entry.example[field.name]) for field in given_fields}
    plain = run(entry.path, entry.example)
    for built in (run(entry.path, entry.request(**items)), in_process(entry, items)):
        assert own_leaves(built) == own_leaves(plain)
        assert built.inputs == plain.inputs
        assert built.warnings == plain.warnings
        # A type does not keep whether a value was given or left at its default: at its default it counts as left there.
        assert built.defaults.items() >= plain.defaults.items()
        for name, text in built.defaults.items() - plain.defaults.items():
            given_as: Any = entry.example
            for key in keys_of(name):
                given_as = given_as[key]
            assert given_as == text


@ENTRIES
def test_a_question_asks_the_same_again(entry: Calculation[Any, Any]) -> None:
    asked = post(address(entry), dict(entry.example))
    question = asked.json()["question"]
    assert question.startswith(f"{address(entry)}?")
    assert re.fullmatch(r"[!-~]{1,2048}", question)  # as it may stand in an address: printable ASCII, no space
    again = get(question)
    assert again.body == asked.body
    assert again.json()["question"] == question


@ENTRIES
@FEW
@given(data=st.data())
def test_any_question_is_answered_alike_through_every_door(entry: Calculation[Any, Any], data: st.DataObject) -> None:
    changes = {leaf.keys: data.draw(values_near(leaf), label=leaf.pointer) for leaf in quantities(entry)}
    changes |= {leaf.keys: leaf.given for leaf in data.draw(with_more(entry), label="more")}
    payload = changed(entry.example, changes)
    units = data.draw(st.sampled_from([None, *PROFILES]), label="units")
    if units:
        payload["units"] = units
    posted, fetched = post(address(entry), payload), fetch(entry, payload)
    if posted.status == 200:
        assert fetched.body == posted.body
        assert get(posted.json()["question"]).body == posted.body
        assert msgspec.to_builtins(run(entry.path, payload)) == posted.json()
    else:
        assert posted.status == fetched.status == 422
        assert posted.json()["errors"] == fetched.json()["errors"]
        with pytest.raises(RequestRefused) as caught:
            run(entry.path, payload)
        assert msgspec.to_builtins(list(caught.value.faults)) == posted.json()["errors"]


@ENTRIES
@pytest.mark.parametrize("profile", PROFILES)
def test_bare_numbers_in_any_profile_give_the_same_physics(entry: Calculation[Any, Any], profile: Any) -> None:
    bare = {leaf.keys: leaf.field.kind.profiles[profile].from_si(leaf.si) for leaf in quantities(entry)}
    answer = run(entry.path, {**changed(entry.example, bare), "units": profile})
    assert_same_physics(physics(entry, run(entry.path, entry.example)), physics(entry, answer))
    for name, kind in numbers(entry.answer):
        assert answer.units.get(name, "") == kind.profiles[profile].symbol


@ENTRIES
def test_each_quantity_means_the_same_in_each_of_its_units(entry: Calculation[Any, Any]) -> None:
    expected = physics(entry, run(entry.path, entry.example))
    leaves = quantities(entry)
    # All quantities change their units together, the first of each, the second of each and so on.
    for turn in range(max((len(leaf.field.kind.symbols) for leaf in leaves), default=0)):
        texts: dict[Any, Any] = {}
        pairs: dict[Any, Any] = {}
        for leaf in leaves:
            symbols = leaf.field.kind.symbols or ("",)
            unit = leaf.field.kind.lookup[symbols[turn % len(symbols)]]
            value = unit.from_si(leaf.si)
            texts[leaf.keys] = f"{value!r} {unit.symbol}".strip()
            pairs[leaf.keys] = {"value": value, "unit": unit.symbol}
        for changes in (texts, pairs):
            assert_same_physics(expected, physics(entry, run(entry.path, changed(entry.example, changes))))


@ENTRIES
def test_answer_units_change_the_units_of_the_answer_and_nothing_else(entry: Calculation[Any, Any]) -> None:
    plain = run(entry.path, entry.example)
    own = {name: kind for name, kind in numbers(entry.answer) if kind.symbols}
    for turn in range(max((len(kind.lookup) for kind in own.values()), default=0)):
        spelt = {name: list(kind.lookup)[turn % len(kind.lookup)] for name, kind in own.items()}
        payload = {**entry.example, "answer_units": spelt}
        posted = post(address(entry), payload)
        answer = msgspec.json.decode(posted.body, type=entry.answer)
        assert answer.units == {**plain.units, **{name: own[name].lookup[unit].symbol for name, unit in spelt.items()}}
        assert_same_physics(physics(entry, plain), physics(entry, answer))
        if turn % 5 == 0:
            assert fetch(entry, payload).body == posted.body
        if answer.question:
            assert re.fullmatch(r"[!-~]+", answer.question)
            assert get(answer.question).body == posted.body


@ENTRIES
def test_answer_units_change_one_field_alone(entry: Calculation[Any, Any]) -> None:
    plain = run(entry.path, entry.example)
    for name, kind in numbers(entry.answer):
        if kind.symbols:
            symbol = kind.symbols[-1]
            answer = run(entry.path, {**entry.example, "answer_units": {name: symbol}})
            assert answer.units == {**plain.units, name: symbol}
            assert_same_physics(physics(entry, plain), physics(entry, answer))


@ENTRIES
def test_the_answer_holds_plain_values_and_says_what_it_rests_on(entry: Calculation[Any, Any]) -> None:
    answer = run(entry.path, entry.example)
    assert {type(value) for value in own_leaves(answer).values()} <= {float, int, str, bool, type(None)}
    assert any(type(value) is float for value in own_leaves(answer).values())
    assert answer.version == __version__
    assert answer.basis
    for basis in answer.basis:
        assert basis.method
        assert basis.source
        assert basis.validity
    assert answer.cautions
    assert len({caution.code for caution in answer.cautions}) == len(answer.cautions)
    for caution in answer.cautions:
        assert caution.message == CAUTIONS[caution.code]
    for warning in answer.warnings:
        assert warning.rows is None
    told = [*answer.cautions, *answer.warnings]
    assert all(0 < len(one.message) < 500 for one in told)
    assert all(re.fullmatch("[a-z][a-z0-9_]*", one.code) for one in told)
    assert len({(warning.code, warning.field, warning.message) for warning in answer.warnings}) == len(answer.warnings)
    assert {name for name, kind in numbers(entry.answer) if kind.symbols} <= set(answer.units)
    assert set(answer.units) <= {name for name, kind in all_numbers(entry.answer) if kind.symbols}


@ENTRIES
def test_a_warning_points_at_a_field(entry: Calculation[Any, Any]) -> None:
    known = {field.name for _, field in every_field(entry)} | set(entry.answer.__struct_fields__)
    known |= {part for name, _ in numbers(entry.answer) for part in name.split(".")}
    for field in top_fields(entry):
        if isinstance(field, SectionField):
            inner = find(field.calculation)
            known |= {one.name for _, one in every_field(inner)} | set(inner.answer.__struct_fields__)
    for warning in run(entry.path, entry.example).warnings:
        parts = [part for part in re.split(r"[./]", warning.field) if not part.isdigit()]
        assert set(parts) <= known, warning


@ENTRIES
def test_inputs_are_what_was_understood_in_si(entry: Calculation[Any, Any]) -> None:
    inputs = run(entry.path, entry.example).inputs
    for leaf in quantities(entry):
        found: Any = inputs
        for key in leaf.keys:
            found = found[key]
        assert found == leaf.si, leaf.pointer
    # What was understood can be asked again as it stands.
    again = run(entry.path, {**inputs, "units": "si"})
    assert_same_physics(physics(entry, run(entry.path, entry.example)), physics(entry, again))


@ENTRIES
def test_defaults_that_were_used_are_listed_and_give_the_same_when_written_out(entry: Calculation[Any, Any]) -> None:
    answer = run(entry.path, entry.example)
    top = {field.name: field for holder, field in every_field(entry) if holder is entry.request}
    wanted = {
        name: field.default_text for name, field in top.items() if name not in entry.example and field.default_text
    }
    assert {name: text for name, text in answer.defaults.items() if "." not in name} == wanted
    written: dict[str, Any] = {
        name: (text == "true" if text in {"true", "false"} else text) for name, text in answer.defaults.items()
    }
    payload = changed(entry.example, {keys_of(name): value for name, value in written.items()})
    spelt = run(entry.path, payload)
    assert spelt.defaults == {}
    assert spelt.inputs == answer.inputs
    assert physics(entry, spelt) == physics(entry, answer)


def keys_of(name: str) -> tuple[str | int, ...]:
    return tuple(int(part) if part.isdigit() else part for part in name.split("."))


@ENTRIES
def test_each_field_is_described_and_each_default_is_allowed(entry: Calculation[Any, Any]) -> None:
    for _, field in every_field(entry):
        if isinstance(field, MeasureField):
            assert field.measure.doc.endswith("."), field.name
            if isinstance(field.default, float):
                assert field.lowest <= field.default <= field.highest, field.name
            if field.measure.example is not None:
                value, unit = read(field.measure.example, field.kind, None)
                assert field.lowest <= unit.to_si(value) <= field.highest, field.name
        elif isinstance(field, ItemsField):
            assert field.readers


@ENTRIES
def test_a_process_that_quietens_numpy_answers_the_same_and_leaves_other_contexts_alone(
    entry: Calculation[Any, Any],
) -> None:
    def asked() -> tuple[dict[str, str], Any]:
        quieten()
        return dict(np.geterr()), run(entry.path, entry.example)

    before = np.geterr()
    told, answer = contextvars.copy_context().run(asked)
    assert set(told.values()) == {"ignore"}
    assert np.geterr() == before
    assert msgspec.to_builtins(answer) == msgspec.to_builtins(run(entry.path, entry.example))


@pytest.mark.parametrize("unit", ["fps", "ft/s", "ft/sec", "m/s"])
def test_a_question_keeps_the_spelling_of_a_unit_asked_for(unit: str) -> None:
    entry = find("pipe/velocity")
    first = run(entry.path, {**entry.example, "answer_units": {"velocity": unit, "smallest_bore": "inches"}})
    again = get(first.question)
    assert again.status == 200
    assert again.json()["velocity"] == first.velocity
    assert again.json()["units"] == first.units
    assert again.json()["question"] == first.question


@ENTRIES
def test_a_value_at_its_bound_is_taken_and_one_beyond_is_not(entry: Calculation[Any, Any]) -> None:
    for _, field in every_field(entry):
        if not isinstance(field, MeasureField):
            continue
        measure = field.measure
        for text, inside in (
            (measure.at_least, True),
            (measure.at_most, True),
            (measure.above, False),
            (measure.below, False),
        ):
            bound = measure.bound(text)
            if bound is not None:
                assert bool(field.outside(np.array(bound))) is not inside, field.name
        assert field.lowest < field.highest, field.name


@ENTRIES
def test_a_transmittance_below_one_percent_asks_whether_a_share_was_meant(entry: Calculation[Any, Any]) -> None:
    for leaf in quantities(entry):
        if leaf.keys[-1] == "uvt":
            with pytest.raises(RequestRefused) as caught:
                run(entry.path, changed(entry.example, {leaf.keys: "0.75 %"}))
            (fault,) = (fault for fault in caught.value.faults if fault.pointer == leaf.pointer)
            assert fault.code == "out_of_range"
            assert "75 %" in fault.message
