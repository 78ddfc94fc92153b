"""A name that stands twice in a JSON object is refused, whatever else the body holds."""

from __future__ import annotations

import json
from typing import Any

import hypothesis.strategies as st
import msgspec
import pytest
from hypothesis import given

from asgi import Reply, send
from dosewright.engine.faults import RequestRefused
from dosewright.http.repeats import refuse_repeated, refuse_repeated_packed

# Colons behind quotes and spaces in odd places are what a count of names could trip over.
TEXTS = st.text(alphabet='ab":\\ {}', max_size=6)
TREES = st.recursive(
    st.one_of(TEXTS, st.integers(-5, 5), st.booleans(), st.none(), st.floats(-1.0, 1.0)),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=12,
)
LAYOUTS: list[dict[str, Any]] = [{}, {"separators": (",", ":")}, {"separators": (" , ", " : ")}, {"indent": 1}]


def post(address: str, body: str) -> Reply:
    return send("POST", f"/v1/{address}", [body.encode()], {"content-type": "application/json"})


def faults(body: bytes) -> dict[str, str]:
    try:
        refuse_repeated(body, msgspec.json.decode(body))
    except RequestRefused as refused:
        return {fault.pointer: fault.code for fault in refused.faults}
    return {}


@given(TREES, st.sampled_from(LAYOUTS))
def test_names_that_stand_once_are_never_refused(tree: Any, layout: dict[str, Any]) -> None:
    assert faults(json.dumps(tree, **layout).encode()) == {}


@given(st.dictionaries(TEXTS, TREES, min_size=1, max_size=3), TREES, st.sampled_from(LAYOUTS), st.data())
def test_one_that_stands_twice_always_is(
    inside: dict[str, Any], value: Any, layout: dict[str, Any], data: st.DataObject
) -> None:
    name = data.draw(st.sampled_from(sorted(inside)))
    mark = "the place of the second one"
    text = json.dumps({"list": [1, {**inside, mark: value}]}, **layout)
    body = text.replace(json.dumps(mark), json.dumps(name)).encode()
    pointer = "/list/1/" + name.replace("~", "~0").replace("/", "~1")
    assert faults(body) == {pointer: "repeated"}


@pytest.mark.parametrize(
    ("address", "body", "pointers"),
    [
        ("pipe/velocity", '{"flow": "9 gal/min", "bore": "20 mm", "flow": "90 gal/min"}', {"/flow"}),
        ("pipe/velocity", '{"flow" : "9 gal/min" , "bore" : "20 mm", "flow": "9 gal/min"}', {"/flow"}),
        ("pipe/velocity/batch", '{"flow": [9, 8], "units": "us", "bore": "20 mm", "units": "si"}', {"/units"}),
        ("pipe/velocity/batch", '[{"flow": "9 gal/min", "bore": "2 cm", "bore": "3 cm"}]', {"/0/bore"}),
        (
            "pipe/pressure-drop",
            '{"flow": "9 gal/min", "segments": [{"kind": "device", "kv": 4, "kv": 5, "kind": "device"}]}',
            {"/segments/0/kv", "/segments/0/kind"},
        ),
    ],
)
def test_it_is_told_with_its_place(address: str, body: str, pointers: set[str]) -> None:
    reply = post(address, body)
    assert reply.status == 422
    told = reply.json()["errors"]
    assert {(fault["pointer"], fault["code"]) for fault in told} == {(pointer, "repeated") for pointer in pointers}


def test_deep_nesting_is_refused_not_failed() -> None:
    """As deep as the first reader goes, and a repeated name at the bottom."""
    for depth in range(100, 1200, 100):
        body = '{"a":' * depth + '{"b":1,"b":2}' + "}" * depth
        assert post("pipe/velocity", body).status in {400, 422}


def test_many_repeated_names_are_told_in_part() -> None:
    body = "{" + ",".join(f'"n{index % 5000}": 1' for index in range(10_000)) + "}"
    reply = post("pipe/velocity", body)
    assert reply.status == 422
    assert 1 < len(reply.json()["errors"]) <= 101


def packed_map(pairs: list[tuple[str, Any]]) -> bytes:
    """Return a map of 16 bits' length with its pairs as given, texts in a longer form than they need."""
    names = (b"\xd9" + bytes([len(name.encode())]) + name.encode() for name, _ in pairs)
    values = (value if isinstance(value, bytes) else msgspec.msgpack.encode(value) for _, value in pairs)
    return (
        b"\xde"
        + len(pairs).to_bytes(2, "big")
        + b"".join(name + value for name, value in zip(names, values, strict=True))
    )


def packed_faults(body: bytes) -> dict[str, str]:
    try:
        refuse_repeated_packed(body, msgspec.msgpack.decode(body))
    except RequestRefused as refused:
        return {fault.pointer: fault.code for fault in refused.faults}
    return {}


@given(st.dictionaries(TEXTS, TREES, min_size=1, max_size=3), TREES, st.data())
def test_a_name_twice_in_messagepack_is_refused_at_any_depth(
    inside: dict[str, Any], value: Any, data: st.DataObject
) -> None:
    name = data.draw(st.sampled_from(sorted(inside)))
    pairs = list(inside.items())
    assert packed_faults(packed_map([("list", packed_list([1, packed_map(pairs)]))])) == {}
    body = packed_map([("list", packed_list([1, packed_map([*pairs, (name, value)])]))])
    assert packed_faults(body) == {"/list/1/" + name.replace("~", "~0").replace("/", "~1"): "repeated"}


def packed_list(entries: list[Any]) -> bytes:
    return (
        b"\xdc"
        + len(entries).to_bytes(2, "big")
        + b"".join(entry if isinstance(entry, bytes) else msgspec.msgpack.encode(entry) for entry in entries)
    )


def test_a_messagepack_request_with_a_name_twice_is_refused() -> None:
    body = packed_map([("flow", "9 gal/min"), ("flow", "90 gal/min"), ("bore", "20 mm")])
    reply = send("POST", "/v1/pipe/velocity", [body], {"content-type": "application/msgpack"})
    assert reply.status == 422
    assert [(fault["pointer"], fault["code"]) for fault in reply.json()["errors"]] == [("/flow", "repeated")]
    sound = packed_map([("flow", "9 gal/min"), ("bore", "20 mm")])
    assert send("POST", "/v1/pipe/velocity", [sound], {"content-type": "application/msgpack"}).status == 200


def test_every_form_of_a_messagepack_value_is_passed_over() -> None:
    forms = [b"\xca\x3f\x80\x00\x00", b"\xcc\x05", b"\xd3" + bytes(8), b"\xc5\x00\x02ab", b"\xd6\xff" + bytes(4)]
    forms += [b"\xc7\x03\x05abc", b"\xda\x00\x01x", b"\xdb\x00\x00\x00\x01x", b"\xdf" + bytes(4), b"\xc0", b"\xff"]
    last = packed_map([("name", 1), ("name", 2)])
    assert packed_faults(packed_list([*forms, last])) == {f"/{len(forms)}/name": "repeated"}
    assert packed_faults(packed_list(forms)) == {}
