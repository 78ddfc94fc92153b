"""A list inside an item of a list: the rated points of a device, however a request is written."""

from __future__ import annotations

from typing import Any
from urllib.parse import parse_qsl

import pytest

from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import find
from dosewright.engine.run import answer, run
from dosewright.present.workbook.grid import Sheet
from dosewright.present.workbook.inputs import inputs_of, put_items
from dosewright.topics.pipe.contracts.pressure_drop import RatedDrop
from dosewright.topics.uv.contracts.derated_flow import RatedPoint

ENTRY = find("pipe/largest-flow")
PIPE = "pipe;length:60 ft;material:copper_type_l;nominal_size:1"
FIRST = "rated_points.0.rated_flow:5 gal/min;rated_points.0.pressure_drop:1.5 psi"
SECOND = "rated_points.1.rated_flow:10 gal/min;rated_points.1.pressure_drop:4.5 psi"
DEVICE = {
    "kind": "device",
    "rated_points": [
        {"rated_flow": "5 gal/min", "pressure_drop": "1.5 psi"},
        {"rated_flow": "10 gal/min", "pressure_drop": "4.5 psi"},
    ],
}


def asked(*segments: str) -> Any:
    return answer(ENTRY, {"segments": list(segments), "pressure_drop_limit": "9 psi"}, query=True)


def faults(*segments: str) -> list[tuple[str, str, str]]:
    with pytest.raises(RequestRefused) as refused:
        asked(*segments)
    return [(fault.pointer, fault.code, fault.message) for fault in refused.value.faults]


def test_an_address_gives_what_an_object_gives() -> None:
    copper = {"kind": "pipe", "length": "60 ft", "material": "copper_type_l", "nominal_size": "1"}
    typed = run("pipe/largest-flow", {"segments": [copper, DEVICE], "pressure_drop_limit": "9 psi"})
    written = asked(PIPE, f"device;{FIRST};{SECOND}")
    assert written.flow == typed.flow
    assert written.question == typed.question
    assert asked(PIPE, f"device;{SECOND};{FIRST}").flow == typed.flow
    assert asked(PIPE, f"device;{FIRST}").flow != typed.flow


def test_the_question_of_an_answer_asks_for_the_same() -> None:
    typed = run(ENTRY.path, ENTRY.example)
    values: dict[str, Any] = {}
    for name, value in parse_qsl(typed.question.partition("?")[2]):
        values.setdefault(name, []).append(value)
    values = {name: value if name == "segments" else value[0] for name, value in values.items()}
    assert answer(ENTRY, values, query=True).flow == typed.flow


@pytest.mark.parametrize(
    ("device", "pointer", "code", "word"),
    [
        ("rated_points:5 gal/min", "/segments/1/rated_points", "item_form", "rated_points.0.name:value"),
        ("rated_points.a.rated_flow:5 gal/min", "/segments/1/rated_points", "item_form", "rated_points.1.name:value"),
        ("rated_points.0:5 gal/min", "/segments/1/rated_points/0", "item_form", "each name once"),
        (f"{FIRST};{FIRST}", "/segments/1", "item_form", "each name once"),
        (f"rated_points.0:9;{FIRST}", "/segments/1", "item_form", "each name once"),
        (f"{FIRST};rated_points.1.rated_flow:9 gal/min", "/segments/1/rated_points/1/pressure_drop", "required", ""),
        (f"{FIRST};rated_points.1.flow:9 gal/min", "/segments/1/rated_points/1/flow", "unknown_field", "rated_flow"),
        ("kv.x:3", "/segments/1/kv.x", "unknown_field", "'kv'"),
        ("kv:3;rated_flow:5 gal/min", "/segments/1/rated_flow", "unknown_field", "Use rated_points.0.rated_flow:…"),
    ],
)
def test_what_is_written_wrongly_is_named_at_its_place(device: str, pointer: str, code: str, word: str) -> None:
    told = faults(PIPE, f"device;{device}")
    assert any((at, kind) == (pointer, code) and word in message for at, kind, message in told), told


def test_points_are_kept_in_the_order_of_their_numbers() -> None:
    points = ";".join(
        f"rated_points.{number}.rated_flow:{number} gal/min;rated_points.{number}.pressure_drop:{drop} psi"
        for number, drop in ((12, 1), (5, 3), (8, 2))
    )
    at = [pointer for pointer, *_ in faults(PIPE, f"device;{points}")]
    assert at == [f"/segments/1/rated_points/{number}/rated_flow" for number in (1, 2, 2)]


def test_a_batch_takes_columns_inside_the_inner_list() -> None:
    flows = ["5 gal/min", "6 gal/min"]
    segments = [
        {"kind": "pipe", "length": "60 ft", "material": "copper_type_l", "nominal_size": "1"},
        {"kind": "device", "rated_points": [{"rated_flow": flows, "pressure_drop": "1.5 psi"}]},
    ]
    batch = run_batch(ENTRY.path, {"segments": segments, "pressure_drop_limit": "9 psi"})
    inside = [f"rated_points.0.rated_flow:{flow};rated_points.0.pressure_drop:1.5 psi" for flow in flows]
    assert list(batch.columns["flow"]) == [asked(PIPE, f"device;{points}").flow for points in inside]


def test_the_workbook_has_a_column_for_each_point() -> None:
    entry = next(one for one in inputs_of(ENTRY, ENTRY.example) if one.name == "segments")
    sheet = Sheet("segments", ())
    _, shown = put_items(sheet, entry)
    heads = [cell.content for cell in sheet.cells.values()]
    assert {f"rated_points.{number}.pressure_drop" for number in range(5)} <= set(heads)
    assert "rated_points.1.rated_flow:10%20gal/min" in shown or "rated_points.1.rated_flow:10%20gal%2Fmin" in shown


def test_help_and_template_name_the_inner_fields() -> None:
    (field,) = (one for one in reader_for(ENTRY.request).fields if one.name == "segments")
    assert any("rated_points.0.rated_flow:…;rated_points.0.pressure_drop:…" in line for line in field.help())
    assert any("rated_points (rated_flow, pressure_drop)" in line for line in field.template_notes())


def test_rated_points_have_the_shape_of_those_of_an_ultraviolet_unit() -> None:
    device, unit = set(RatedDrop.__struct_fields__), set(RatedPoint.__struct_fields__)
    assert device == {"rated_flow", "pressure_drop"}
    assert "rated_flow" in unit
    for path, struct in (("pipe/pressure-drop", RatedDrop), ("uv/derated-flow", RatedPoint)):
        held = [reader for field in reader_for(find(path).request).fields for reader in field.structs]
        inner = [one for reader in held for field in reader.fields for one in field.structs]
        assert struct in [reader.struct for reader in (*held, *inner)]
