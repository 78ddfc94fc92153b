"""A request that cannot be answered is told every fault at once, in one shape, and never fails the service."""

from __future__ import annotations

import json
import math
import re
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

import hypothesis.strategies as st
import msgspec
import pytest
from hypothesis import example, given

from asgi import Reply, get, post, send
from contract_walk import (
    ENTRIES,
    FEW,
    Leaf,
    addresses,
    as_query,
    changed,
    every_field,
    items_of,
    numbers,
    quantities,
    top_fields,
)
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import MOST_FAULTS, RequestRefused
from dosewright.engine.fields import MISSING
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.flag import FlagField
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.run import run
from dosewright.http.problems import KINDS_OF_PROBLEM
from dosewright.quantities import KINDS, PROFILES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dosewright.engine.registry import Calculation

FAULT_MEMBERS = {"pointer", "code", "message", "given", "allowed", "rows"}


def problem(reply: Reply, status: int = 422) -> dict[str, Any]:
    """Return the problem details of a refusal, its shape checked (RFC 9457, sections 3 and 3.1)."""
    assert reply.status == status, reply.body
    assert reply.headers["content-type"] == "application/problem+json"
    assert reply.headers["cache-control"] == "no-store"
    told = reply.json()
    assert told["status"] == reply.status
    kind = told["type"].removeprefix("/problems/")
    assert KINDS_OF_PROBLEM[kind] == (told["status"], told["title"])
    assert told["request_id"] == reply.headers["x-request-id"]
    assert 0 < len(told["detail"]) < 500
    for fault in told.get("errors", []):
        assert_told_well(fault)
    return told


def assert_told_well(fault: dict[str, Any]) -> None:
    assert fault.keys() <= FAULT_MEMBERS
    assert re.fullmatch("[a-z][a-z_]*", fault["code"])
    assert 0 < len(fault["message"]) < 500, fault
    assert len(fault.get("given") or "") < 100
    assert fault["pointer"] == "" or fault["pointer"].startswith("/")
    assert len(fault["pointer"]) < 300


def refusals(entry: Calculation[Any, Any], payload: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the faults of a request, the same through every door."""
    posted = problem(post(f"/v1/{entry.path}", payload))
    fetched = problem(get(f"/v1/{entry.path}?{urlencode(as_query(entry, payload), quote_via=quote)}"))
    with pytest.raises(RequestRefused) as caught:
        run(entry.path, payload)
    here = msgspec.to_builtins(list(caught.value.faults))
    assert posted["errors"] == here
    assert fetched["errors"] == here
    count = len(here)
    assert posted["detail"] == ("The request has 1 fault." if count == 1 else f"The request has {count} faults.")
    return here


def beyond(field: MeasureField) -> str | None:
    """Return a value out of a field's bounds, or None where it has none."""
    symbol = field.kind.profiles["si"].symbol
    measure = field.measure
    for text, step in ((measure.at_most, 1.0), (measure.below, 0.0), (measure.at_least, -1.0), (measure.above, 0.0)):
        bound = measure.bound(text)
        if bound is not None:
            return f"{bound + step * max(abs(bound), 1.0)!r} {symbol}".strip()
    return None


def foreign(leaf: Leaf) -> str:
    """Return a value with a unit of another dimension."""
    return "1 psi" if leaf.field.kind.dimension != "pressure" else "1 mJ/cm2"


@ENTRIES
def test_all_faults_are_told_at_once(entry: Calculation[Any, Any]) -> None:
    leaves = quantities(entry)
    if not leaves:
        return
    wrong_unit = next(leaf for leaf in leaves if leaf.field.kind.symbols)
    bounded = [leaf for leaf in leaves if leaf is not wrong_unit and beyond(leaf.field)]
    name = top_fields(entry)[-1].name
    misspelt = f"{name[:-1]}{name[-1]}s"
    payload = changed(
        entry.example,
        {wrong_unit.keys: foreign(wrong_unit), **{leaf.keys: beyond(leaf.field) for leaf in bounded}},
    )
    payload |= {misspelt: "1 m", "units": "imperial", "answer_units": {"no_such_field": "m"}}
    expected = {
        (wrong_unit.pointer, "unit_wrong_dimension"),
        *((leaf.pointer, "out_of_range") for leaf in bounded),
        (f"/{misspelt}", "unknown_field"),
        ("/units", "unknown_choice"),
        ("/answer_units/no_such_field", "unknown_field"),
    }
    told = refusals(entry, payload)
    assert {(fault["pointer"], fault["code"]) for fault in told} == expected
    assert len(told) == len(expected)
    by_pointer = {fault["pointer"]: fault for fault in told}
    assert f"Did you mean {name!r}?" in by_pointer[f"/{misspelt}"]["message"]
    assert by_pointer[wrong_unit.pointer]["allowed"] == list(wrong_unit.field.kind.symbols)
    for leaf in bounded:
        assert by_pointer[leaf.pointer]["allowed"] == leaf.field.measure.allowed
        assert leaf.field.measure.hint in by_pointer[leaf.pointer]["message"]
    assert by_pointer["/units"]["allowed"] == list(PROFILES)


@ENTRIES
def test_each_required_field_is_missed_by_name(entry: Calculation[Any, Any]) -> None:
    required = [field.name for field in top_fields(entry) if field.default is MISSING]
    if required:
        told = problem(post(f"/v1/{entry.path}", {}))["errors"]
        missed = [fault["pointer"] for fault in told if fault["code"] == "required"]
        # Checks between fields may want others in their turn.
        assert missed[: len(required)] == [f"/{name}" for name in required]
    for name in required:
        told = refusals(entry, {other: value for other, value in entry.example.items() if other != name})
        assert [(fault["pointer"], fault["code"]) for fault in told] == [(f"/{name}", "required")]


@ENTRIES
def test_a_misspelt_field_is_told_its_nearest_name(entry: Calculation[Any, Any]) -> None:
    known = [field.name for field in top_fields(entry)]
    for name in known:
        misspelt = name[:-1] + "_" + name[-1]
        (fault,) = refusals(entry, {**entry.example, misspelt: "1"})
        assert (fault["pointer"], fault["code"]) == (f"/{misspelt}", "unknown_field")
        assert f"Did you mean {name!r}?" in fault["message"]
        assert fault["allowed"] == [*known, "units", "answer_units"]


@ENTRIES
def test_a_misspelt_field_of_an_item_is_told_too(entry: Calculation[Any, Any]) -> None:
    for keys, item in items_of(entry):
        name = next(name for name in item if name != "kind")
        misspelt = f"{name[:-1]}_{name[-1]}"
        (fault,) = refusals(entry, changed(entry.example, {(*keys, misspelt): "1"}))
        assert fault["pointer"] == "".join(f"/{key}" for key in (*keys, misspelt))
        assert f"Did you mean {name!r}?" in fault["message"]


@ENTRIES
def test_each_quantity_is_refused_by_kind_of_fault(entry: Calculation[Any, Any]) -> None:
    for leaf in quantities(entry):
        wrong: dict[str, Any] = {
            "nonsense": "number_unreadable",
            "1e400": "number_not_finite",
            "2,5": "decimal_comma",
            "9" * 65: "text_too_long",
            "1 furlong": "unit_unknown" if leaf.field.kind.symbols else "unit_not_allowed",
            foreign(leaf): "unit_wrong_dimension" if leaf.field.kind.symbols else "unit_not_allowed",
        }
        if leaf.field.kind.symbols:
            wrong["1"] = "unit_missing"
        for value, code in wrong.items():
            told = refusals(entry, changed(entry.example, {leaf.keys: value}))
            # What another section would have taken from here may be missed there too.
            assert [fault["code"] for fault in told if fault["pointer"] == leaf.pointer] == [code], value
            assert {fault["code"] for fault in told} <= {code, "required"}
            assert all(fault["allowed"] for fault in told if fault["pointer"] == leaf.pointer)


@ENTRIES
def test_names_and_flags_are_refused_with_what_is_allowed(entry: Calculation[Any, Any]) -> None:
    for field in top_fields(entry):
        if isinstance(field, ChoiceField):
            name = field.names[0]
            (fault,) = faults_at(refusals(entry, {**entry.example, field.name: f"{name}x"}), field.name)
            assert fault["code"] == "unknown_choice"
            assert fault["allowed"] == list(field.names)
            assert "Did you mean" in fault["message"]
        elif isinstance(field, FlagField):
            (fault,) = faults_at(refusals(entry, {**entry.example, field.name: "maybe"}), field.name)
            assert fault["code"] == "wrong_type"


def faults_at(told: list[dict[str, Any]], name: str) -> list[dict[str, Any]]:
    return [fault for fault in told if fault["pointer"].split("/")[1] == name]


@ENTRIES
def test_a_list_of_items_keeps_its_bounds_and_its_kinds(entry: Calculation[Any, Any]) -> None:
    for field in top_fields(entry):
        if not isinstance(field, ItemsField) or not field.many or field.name not in entry.example:
            continue
        some = entry.example[field.name]
        for count in {0, field.items.at_least - 1, field.items.at_most + 1} - {field.items.at_least}:
            if count >= 0:
                reply = post(f"/v1/{entry.path}", {**entry.example, field.name: some[:1] * count})
                (fault,) = faults_at(problem(reply)["errors"], field.name)
                assert fault["code"] == "out_of_range"
        if "" not in field.readers:
            items = [{**some[0], "kind": "no_such_kind"}, *some[1:], {}]
            told = problem(post(f"/v1/{entry.path}", {**entry.example, field.name: items}))["errors"]
            at = [(fault["pointer"], fault["code"]) for fault in told]
            assert at == [
                (f"/{field.name}/0/kind", "unknown_choice"),
                (f"/{field.name}/{len(items) - 1}/kind", "required"),
            ]
            assert all(fault["allowed"] == list(field.readers) for fault in told)


@ENTRIES
def test_a_thousand_faults_are_told_within_bounds(entry: Calculation[Any, Any]) -> None:
    reply = post(f"/v1/{entry.path}", {f"nothing_{number}": 1 for number in range(5000)})
    told = problem(reply)["errors"]
    assert sum(fault["code"] != "unknown_field" for fault in told) < 20
    assert sum(fault["code"] == "unknown_field" for fault in told) <= MOST_FAULTS
    assert [fault["code"] for fault in told].count("more_faults") == 1
    assert len(reply.body) < 256 * 1024


@ENTRIES
def test_answer_units_are_refused_by_field_and_by_unit(entry: Calculation[Any, Any]) -> None:
    names = [name for name, kind in numbers(entry.answer) if kind.symbols]
    first = names.pop(0)
    told = refusals(entry, {**entry.example, "answer_units": {"no_such": "m", **dict.fromkeys(names, "ampere")}})
    codes = {fault["pointer"]: fault["code"] for fault in told}
    assert codes == {
        "/answer_units/no_such": "unknown_field",
        **{f"/answer_units/{name}": "unit_unknown" for name in names},
    }
    (fault,) = refusals(entry, {**entry.example, "answer_units": {f"{first[:-1]}_{first[-1]}": "m"}})
    assert f"Did you mean {first!r}?" in fault["message"]
    crowd = {f"no_such_{number}": "m" for number in range(5000)}
    assert len(post(f"/v1/{entry.path}", {**entry.example, "answer_units": crowd}).body) < 256 * 1024
    for wrong in ("text", 5, [], {"velocity": 5}, {"velocity": None}, True):
        told = problem(post(f"/v1/{entry.path}", {**entry.example, "answer_units": wrong}))["errors"]
        assert [(fault["pointer"], fault["code"]) for fault in told] == [("/answer_units", "wrong_type")], wrong


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.integers(min_value=10**300, max_value=10**320)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=80)
    | st.builds(
        lambda number, symbol: f"{number} {symbol}",
        st.floats() | st.integers(-100, 100),
        st.sampled_from([symbol for kind in KINDS.values() for symbol in kind.lookup]),
    ),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(["value", "unit", "kind", "volume", "~/", ""]) | st.text(max_size=8), inner, max_size=4
        )
    ),
    max_leaves=6,
)


@ENTRIES
@FEW
@given(data=st.data())
def test_any_json_in_any_field_is_answered_or_refused(entry: Calculation[Any, Any], data: st.DataObject) -> None:
    spots = [(field.name,) for field in top_fields(entry)] + [leaf.keys for leaf in quantities(entry)]
    spots += [(name,) for name in ("units", "answer_units", "no_such_field")] + [keys for keys, _ in items_of(entry)]
    chosen = data.draw(st.lists(st.sampled_from(spots), min_size=1, max_size=3, unique_by=lambda keys: keys[0]))
    payload = changed(entry.example, {keys: data.draw(JSON, label=repr(keys)) for keys in chosen})
    single = post(f"/v1/{entry.path}", payload)
    if single.status != 200:
        problem(single)
        with pytest.raises(RequestRefused) as caught:
            run(entry.path, json.loads(json.dumps(payload)))
        assert msgspec.to_builtins(list(caught.value.faults)) == single.json()["errors"]
    for target in addresses(entry)[1:]:
        batch = post(target, payload)
        if batch.status == 200:
            for fault in batch.json()["errors"]:
                assert_told_well(fault)
        else:
            problem(batch)


@ENTRIES
@FEW
@given(body=JSON)
@example(body=[])
@example(body=[{}])
@example(body=[[]])
@example(body="text")
@example(body=[{"flow": 1}, 2])
def test_any_json_as_a_body_is_answered_or_refused(entry: Calculation[Any, Any], body: Any) -> None:
    for target in addresses(entry):
        reply = post(target, body)
        if reply.status != 200:
            problem(reply, 422 if reply.status == 422 else 400)


@ENTRIES
@FEW
@given(query=st.text(max_size=60) | st.binary(max_size=60), name=st.data())
def test_any_query_is_answered_or_refused(
    entry: Calculation[Any, Any], query: str | bytes, name: st.DataObject
) -> None:
    fields = [field.name for field in top_fields(entry)]
    chosen = name.draw(st.sampled_from([*fields, "units", "answer_units", "format", "pick", "decimal"]))
    others = [pair for pair in as_query(entry, entry.example) if pair[0] != chosen]
    reply = get(f"/v1/{entry.path}?{urlencode(others, quote_via=quote)}&{chosen}={quote(query)}")
    if reply.status != 200:
        problem(reply, reply.status if reply.status in {400, 422} else 422)
    raw = get(f"/v1/{entry.path}?{quote(query, safe='=&;%+')}")
    if raw.status != 200:
        problem(raw, raw.status if raw.status in {400, 422} else 422)


NOT_JSON = [
    b"",
    b"{",
    b"[" * 100_000,
    b'{"flow": NaN}',
    b'{"flow": Infinity}',
    b"\xff\xfe",
    b'{"flow": "\xff"}',
    b"{} {}",
    b"null",
    b"flow=9",
    "{“flow”: 9}".encode(),
]


@ENTRIES
@pytest.mark.parametrize("body", NOT_JSON, ids=lambda body: repr(body[:20]))
def test_what_is_no_json_object_is_refused_as_unreadable(entry: Calculation[Any, Any], body: bytes) -> None:
    for target in addresses(entry):
        told = problem(send("POST", target, [body], {"content-type": "application/json"}), 400)
        assert told["type"] == "/problems/unreadable-body"


@ENTRIES
def test_keys_that_are_no_texts_are_refused_not_failed(entry: Calculation[Any, Any]) -> None:
    strange: Any = {**entry.example, 5: 1, None: 2}
    for runner in (run, run_batch) if entry.batch else (run,):
        with pytest.raises(RequestRefused) as caught:
            runner(entry.path, strange)
        assert {fault.code for fault in caught.value.faults} == {"unknown_field"}


@ENTRIES
def test_a_number_too_large_for_its_neighbours_is_refused_not_failed(entry: Calculation[Any, Any]) -> None:
    """Bounds keep most of these out; what passes must still come out finite, or be refused."""
    for _, field in every_field(entry):
        if not isinstance(field, MeasureField):
            continue
        for bound in (field.lowest, field.highest):
            if math.isinf(bound):
                continue
            for leaf in quantities(entry):
                if leaf.field is field:
                    symbol = field.kind.profiles["si"].symbol
                    reply = post(f"/v1/{entry.path}", changed(entry.example, {leaf.keys: f"{bound!r} {symbol}"}))
                    assert reply.status in {200, 422}, (leaf.pointer, bound, reply.body)


@pytest.mark.parametrize("kind", KINDS_OF_PROBLEM)
def test_the_address_that_names_a_kind_of_problem_says_what_it_is(kind: str) -> None:
    reply = get(f"/problems/{kind}")
    assert reply.status == 200
    status, title = KINDS_OF_PROBLEM[kind]
    assert reply.json() == {"type": f"/problems/{kind}", "title": title, "status": status}
