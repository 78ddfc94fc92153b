"""Forms of an answer: one value, tables, packed binary, and none that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
import json
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np
import pytest

from asgi import get, post
from contract_walk import BATCHED, ENTRIES, changed, own_leaves, quantities
from dosewright import __version__
from dosewright.engine.base import Warn
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import Fault
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.engine.writing import answer_fields
from dosewright.http.formats import FORMATS

if TYPE_CHECKING:
    from dosewright.engine.registry import Calculation

FORMULAS = ["=1+1", "+1", "-1+2", "@SUM(A1)", "\t=1", "\r=1", '=cmd|"/c calc"!A0']
BATCH_FORMATS = [name for name, form in FORMATS.items() if form.batch]


def address(entry: Calculation[Any, Any]) -> str:
    """Return an address that asks the example, ready to take more parameters."""
    question = run(entry.path, entry.example).question
    assert question
    return question


def rows_of(body: bytes, delimiter: str = ",") -> list[list[str]]:
    text = body.decode("utf-8")
    assert not text.startswith("\ufeff")
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))


def as_text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    return repr(value) if isinstance(value, (float, int)) else value


def field_of(name: str) -> str:
    return ".".join(part for part in name.split(".") if not part.isdigit())


def units_by_leaf(entry: Calculation[Any, Any], units: dict[str, str]) -> dict[str, str]:
    answer = run(entry.path, entry.example)
    return {name: units.get(field_of(name), "") for name in own_leaves(answer)}


@ENTRIES
def test_each_value_is_picked_as_bare_text(entry: Calculation[Any, Any]) -> None:
    answer = get(address(entry)).json()
    by_field = {field_of(name): (name, value) for name, value in own_leaves(run(entry.path, entry.example)).items()}
    for name, value in by_field.values():  # one item of each list
        for picked in (
            get(f"{address(entry)}&pick={name}"),
            post(f"/v1/{entry.path}?pick={name}", dict(entry.example)),
        ):
            if value is None:  # an empty cell would read as nothing to worry about
                assert picked.status == 422
                assert [fault["code"] for fault in picked.json()["errors"]] == ["no_value"]
                continue
            assert picked.status == 200
            assert picked.headers["content-type"] == "text/plain; charset=utf-8"
            assert picked.body.decode() == as_text(value)
            if isinstance(value, float):
                assert json.loads(picked.body) == value
                assert b"\n" not in picked.body
                assert picked.body.isascii()
    for name, unit in answer["units"].items():
        assert get(f"{address(entry)}&format=text&pick=units.{name}").body.decode() == unit
    cautions = get(f"{address(entry)}&pick=cautions").body.decode()
    assert cautions == " ".join(caution["message"] for caution in answer["cautions"])


@ENTRIES
def test_a_decimal_comma_changes_nothing_but_the_sign(entry: Calculation[Any, Any]) -> None:
    for name, value in list(own_leaves(run(entry.path, entry.example)).items())[:20]:
        if isinstance(value, float):
            picked = get(f"{address(entry)}&pick={name}&decimal=comma") if "." not in address(entry) else None
            posted = post(f"/v1/{entry.path}?pick={name}&decimal=comma", dict(entry.example))
            assert posted.body.decode() == repr(value).replace(".", ",")
            assert picked is None or picked.body == posted.body


@ENTRIES
def test_pick_of_what_is_not_there_names_what_is(entry: Calculation[Any, Any]) -> None:
    name = next(iter(own_leaves(run(entry.path, entry.example))))
    for wrong in (f"{name}x", "", "x" * 10_000):
        reply = get(f"{address(entry)}&pick={wrong}")
        assert reply.status == 422
        (fault,) = reply.json()["errors"]
        assert fault["pointer"] == "/pick"
        assert name in fault["allowed"]
    assert get(f"{address(entry)}&format=text").json()["errors"][0]["code"] == "required"
    assert get(f"{address(entry)}&format=json&pick={name}").json()["errors"][0]["code"] == "not_allowed"


def shown_leaves(answer: Any) -> dict[str, Any]:
    """Return an answer's own values as a list of rows has them: absent texts of list items are left out."""
    return {
        name: one
        for name, one in own_leaves(answer).items()
        if one is not None or answer.units.get(field_of(name)) or not re.search(r"\.\d+\.", name)
    }


@ENTRIES
def test_csv_holds_every_value_with_its_unit(entry: Calculation[Any, Any]) -> None:
    answer = run(entry.path, entry.example)
    reply = get(f"{address(entry)}&format=csv")
    assert reply.headers["content-type"] == "text/csv; charset=utf-8"
    header, *rows = rows_of(reply.body)
    assert header == ["field", "value", "unit"]
    own = shown_leaves(answer)
    units = units_by_leaf(entry, answer.units)
    held = {name: [value, unit] for name, value, unit in rows}
    assert {name: held[name] for name in own} == {name: [as_text(value), units[name]] for name, value in own.items()}
    assert list(held)[: len(own)] == list(own) or any(
        field.schema.get("section") for field in answer_fields(entry.answer)
    )
    rest = {name: value for name, value, _ in rows if name not in own}
    assert [value for name, value in rest.items() if name.startswith("cautions.")] == [
        caution.message for caution in answer.cautions
    ]
    assert [value for name, value in rest.items() if name.startswith("warnings.")] == [
        warning.message for warning in answer.warnings
    ]
    assert rest["version"] == __version__
    assert rest["question"] == answer.question


@BATCHED
def test_csv_of_a_batch_reads_back(entry: Calculation[Any, Any]) -> None:
    leaf = quantities(entry)[0]
    payload = changed(entry.example, {leaf.keys: [leaf.given, "nonsense", leaf.given]})
    batch = run_batch(entry.path, payload)
    for comma in (False, True):
        reply = post(f"/v1/{entry.path}/batch?format=csv{'&decimal=comma' if comma else ''}", payload)
        header, *rows = rows_of(reply.body, ";" if comma else ",")
        assert [name.partition(" [")[0] for name in header] == ["row", *batch.columns, "warnings", "error"]
        assert [row[0] for row in rows] == ["0", "1", "2"]
        assert [bool(row[-1]) for row in rows] == [False, True, False]
        for number, (name, column) in enumerate(batch.columns.items(), 1):
            unit = batch.units.get(field_of(name))
            assert header[number] == (f"{name} [{unit}]" if unit else name)
            expected = [None if value != value else value for value in list(column)]
            texts = [as_text(value.item() if isinstance(value, np.generic) else value) for value in expected]
            if comma:
                texts = [
                    text.replace(".", ",") if isinstance(value, float) else text
                    for text, value in zip(texts, expected, strict=True)
                ]
            assert [row[number] for row in rows] == texts, name


@pytest.mark.parametrize("text", FORMULAS)
@pytest.mark.parametrize("name", ["csv", "html"])
def test_a_text_that_a_spreadsheet_would_run_is_made_harmless(name: str, text: str) -> None:
    entry = calculations()["pipe/velocity"]
    answer = run(entry.path, entry.example)
    hostile = msgspec.structs.replace(answer, regime=text, warnings=[Warn(code="x", field="y", message=text)])
    batch = run_batch(entry.path, entry.example)
    told = Fault(pointer=text, code="x", message=text, rows=[0])
    rows = msgspec.structs.replace(batch, columns={**batch.columns, "regime": [text]}, errors=[told])
    for one in (hostile, rows):
        body = FORMATS[name].render(one)
        cells = [cell for row in rows_of(body) for cell in row] if name == "csv" else _cells(body)
        assert f"'{text}" in cells or f"'{text}".replace("\r", "\n") in cells
        numbers_only = [cell for cell in cells if _is_number(cell)]
        assert numbers_only
        assert not [cell for cell in cells if cell.startswith(tuple("=+-@\t\r")) and not _is_number(cell)]


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


class _Table(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        del attrs
        if tag == "tr":
            self.rows.append([])
        elif tag in {"td", "th"}:
            self.rows[-1].append("")

    def handle_data(self, data: str) -> None:
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data.removesuffix("\n")


def _cells(body: bytes) -> list[str]:
    table = _Table()
    table.feed(body.decode())
    return [cell for row in table.rows for cell in row]


def test_a_negative_number_stays_a_number() -> None:
    entry = calculations()["pipe/pressure-drop"]
    payload = {**entry.example, "segments": [{"kind": "elevation", "elevation_change": "-3 m"}]}
    answer = run(entry.path, payload)
    assert answer.pressure_drop < 0
    rows = {row[0]: row[1] for row in rows_of(post(f"/v1/{entry.path}?format=csv", payload).body)}
    assert float(rows["pressure_drop"]) == answer.pressure_drop


@ENTRIES
def test_html_xml_msgpack_and_records_hold_the_same_values(entry: Calculation[Any, Any]) -> None:
    answer = run(entry.path, entry.example)
    own = own_leaves(answer)
    packed = get(f"{address(entry)}&format=msgpack")
    assert packed.headers["content-type"] == "application/msgpack"
    assert msgspec.msgpack.decode(packed.body) == get(address(entry)).json()
    (record,) = get(f"{address(entry)}&format=table").json()
    assert {name: record[name] for name in own} == own
    if entry.path != "site/plan":  # its HTML is a page, tested with the plan
        table = _Table()
        table.feed(get(f"{address(entry)}&format=html").body.decode())
        shown = {row[0]: row[1:] for row in table.rows}
        units = units_by_leaf(entry, answer.units)
        assert {name: shown[name] for name in shown_leaves(answer)} == {
            name: [as_text(value), units[name]] for name, value in shown_leaves(answer).items()
        }
    reply = get(f"{address(entry)}&format=xml")
    assert reply.headers["content-type"] == "application/xml; charset=utf-8"
    root = ET.fromstring(reply.body)  # noqa: S314 - our own answer
    for name, value in own.items():
        if "." not in name:
            (element,) = root.findall(name)
            assert (element.text or "") == as_text(value)
            assert element.get("unit", "") == answer.units.get(name, "")


@BATCHED
@pytest.mark.parametrize("name", BATCH_FORMATS)
def test_every_format_of_a_batch_is_well_formed(entry: Calculation[Any, Any], name: str) -> None:
    leaf = quantities(entry)[0]
    payload = changed(entry.example, {leaf.keys: [leaf.given, "nonsense"]})
    plain = post(f"/v1/{entry.path}/batch", payload).json()
    reply = post(f"/v1/{entry.path}/batch?format={name}", payload)
    assert reply.status == 200
    assert reply.headers["content-type"] == FORMATS[name].media_type
    if name == "msgpack":
        assert msgspec.msgpack.decode(reply.body) == plain
    elif name == "table":
        records = reply.json()
        assert [record["row"] for record in records] == [0, 1]
        assert {key: [record[key] for record in records] for key in plain["columns"]} == plain["columns"]
        assert [bool(record["error"]) for record in records] == [False, True]
    elif name == "xml":
        first, _ = ET.fromstring(reply.body).findall("item")  # noqa: S314 - our own answer
        held = {value.get("name"): value.text or "" for value in first.findall("value")}
        assert {key: held[key] for key in plain["columns"]} == {
            key: as_text(column[0]) for key, column in plain["columns"].items()
        }


@BATCHED
def test_a_batch_is_not_one_text(entry: Calculation[Any, Any]) -> None:
    for query in ("?format=text", "?pick=velocity"):
        assert post(f"/v1/{entry.path}/batch{query}", dict(entry.example)).status in {406, 422}
    assert post(f"/v1/{entry.path}/batch", dict(entry.example), {"accept": "text/plain"}).status == 406


@ENTRIES
@pytest.mark.parametrize(
    ("accept", "media"),
    [
        ("*/*", "application/json"),
        ("application/json", "application/json"),
        ("text/csv", "text/csv; charset=utf-8"),
        ("text/html;q=0.5, text/csv", "text/csv; charset=utf-8"),
        ("application/json;q=0.1, application/msgpack", "application/msgpack"),
        ("image/gif, */*;q=0.1", "application/json"),
    ],
)
def test_accept_chooses_the_format(entry: Calculation[Any, Any], accept: str, media: str) -> None:
    reply = get(address(entry), {"accept": accept})
    assert reply.status == 200
    assert reply.headers["content-type"] == media
    assert "accept" in reply.headers["vary"]


@ENTRIES
def test_what_is_not_offered_is_refused_by_name(entry: Calculation[Any, Any]) -> None:
    assert get(address(entry), {"accept": "image/gif"}).status == 406
    (fault,) = get(f"{address(entry)}&format=odt").json()["errors"]
    assert (fault["pointer"], fault["allowed"]) == ("/format", list(FORMATS))
