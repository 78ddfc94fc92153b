"""Every ready workbook, taken from a running server, opened and recalculated in real LibreOffice, in two locales."""

from __future__ import annotations

import html
import http.client
import json
import re
from typing import TYPE_CHECKING, Any

import msgspec
import pytest

from dosewright.engine.base import Answer
from dosewright.engine.registry import calculations
from dosewright.http.downloads import GUIDES
from dosewright.present.rows import own_leaves
from dosewright_sdk import InProcess
from serverproc import serving

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from calc_sheets import Cell, Office

    from serverproc import ServerProcess

PATHS = list(calculations())
Sheets = "dict[str, list[list[Cell]]]"


@pytest.fixture(params=["office", "german_office"], ids=["english", "german"])
def opened(request: pytest.FixtureRequest) -> Office:
    return request.getfixturevalue(request.param)


@pytest.fixture(scope="module")
def logged() -> Iterator[ServerProcess]:
    """A server whose log tells each request."""
    with serving(log_level="info") as started:
        yield started


def fetched(server: ServerProcess, target: str) -> bytes:
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)
    connection.request("GET", target)
    body = connection.getresponse().read()
    connection.close()
    return body


def download(server: ServerProcess, path: str, folder: Path) -> Path:
    name = f"{path.replace('/', '-')}.xlsx"
    (folder / name).write_bytes(fetched(server, f"/workbooks/{name}"))
    return folder / name


def gets(server: ServerProcess) -> int:
    lines = [json.loads(line) for line in server.written().splitlines() if line.startswith("{")]
    return sum(line.get("method") == "GET" and line["path"].startswith("/v1/") for line in lines)


def asked(path: str, **request: Any) -> Answer:
    """Ask the SDK, by the calculation's path."""
    return InProcess().single(path, calculations()[path].answer, request)


def results(sheets: dict[str, list[list[Cell]]]) -> dict[str, tuple[Cell, str]]:
    """Gather every result by its name in an answer: the cell and the unit beside it."""
    main = sheets["Calculation"]
    head = next(row for row, cells in enumerate(main) if cells[0].text == "Result")
    found = {cells[0].text: (cells[1], cells[2].text) for cells in main[head + 1 :] if cells[0].text}
    for cells in sheets.values():
        if len(cells) > 4 and cells[3][0].text == "item":
            table = cells[0][0].text.partition(":")[0]
            fields, units = cells[3][1:], cells[4][1:]
            for index, row in enumerate(cells[5:]):
                for field, unit, cell in zip(fields, units, row[1:], strict=True):
                    found[f"{table}.{index}.{field.text}"] = cell, unit.text
    return found


def compared(answer: Answer, sheets: dict[str, list[list[Cell]]]) -> int:
    """Compare every value and unit with an answer of the SDK; return how many values there were."""
    found = results(sheets)
    count = 0
    for name, value in leaves(answer):
        if name not in found and (value is None or re.search(r"\.\d+\..*\.\d+\.", name)):
            continue  # a list that is absent, or one inside a list's item, has no place in a table
        cell, unit = found[name]
        if isinstance(value, (float, int)) and not isinstance(value, bool):
            assert (cell.kind, cell.value) == ("number", pytest.approx(value, rel=1e-13, abs=1e-300)), name
            plain = ".".join(part for part in name.split(".") if not part.isdigit())
            assert unit == answer.units.get(plain, unit), name
            count += 1
        elif value is None:
            assert cell.text == "", name
        else:
            assert cell.text == (str(value).lower() if isinstance(value, bool) else str(value)), name
    return count


def leaves(answer: Answer) -> Iterator[tuple[str, Any]]:
    """Yield what own_leaves yields, without what the answers of sections share."""
    shared = set(Answer.__struct_fields__)
    for name, value in own_leaves(answer):
        if not shared.intersection(name.split(".")[1:2]):
            yield name, value


def state(sheets: dict[str, list[list[Cell]]]) -> str:
    return sheets["Calculation"][5][1].text


@pytest.mark.parametrize("path", PATHS)
def test_a_workbook_holds_what_the_sdk_answers(
    opened: Office, logged: ServerProcess, tmp_path: Path, path: str
) -> None:
    before = gets(logged)
    sheets = opened.workbook(download(logged, path, tmp_path))
    answer = asked(path, **{**calculations()[path].example, "units": "metric"})
    assert compared(answer, sheets) > 0
    cases = calculations()[path].views.cases
    assert gets(logged) - before == 1 + (len(cases.values) if cases else 0)  # one request an answer
    texts = {cell.text for row in sheets["Calculation"] for cell in row}
    for message in (*answer.warnings, *answer.cautions):
        assert message.message in texts
    assert all(basis.method in texts for basis in answer.basis)
    assert (
        state(sheets)
        == f"Answered. Warnings: {len(answer.warnings)}; cautions: {len(answer.cautions)}. Read them below."
    )
    assert not [cell for rows in sheets.values() for row in rows for cell in row if cell.kind == "error"]


@pytest.mark.parametrize("path", [path for path in PATHS if calculations()[path].views.cases])
def test_a_table_of_cases_holds_what_the_sdk_answers(
    opened: Office, server: ServerProcess, tmp_path: Path, path: str
) -> None:
    sheets = opened.workbook(download(server, path, tmp_path))
    cases = calculations()[path].views.cases
    assert cases is not None
    example = {**calculations()[path].example, "units": "metric"}
    for value, row in zip(cases.values, sheets["Cases"][4:], strict=True):
        answer = asked(path, **{**example, cases.field: f"{value} {cases.unit}"})
        assert row[0].value == value
        assert row[1].value == pytest.approx(getattr(answer, cases.result), rel=1e-14)


def cell_of(sheets: dict[str, list[list[Cell]]], name: str, column: str) -> str:
    rows = sheets["Calculation"]
    return f"{column}{1 + next(row for row, cells in enumerate(rows) if cells[0].text == name)}"


def test_changed_inputs_are_asked_anew(opened: Office, server: ServerProcess, tmp_path: Path) -> None:
    path = download(server, "pipe/velocity", tmp_path)
    before = opened.workbook(path)
    changes = [
        ("Calculation", "B5", "us"),
        ("Calculation", cell_of(before, "flow", "B"), 1234.567),
        ("Calculation", cell_of(before, "flow", "C"), "L/min"),
        ("Calculation", cell_of(before, "material", "B"), ""),
        ("Calculation", cell_of(before, "nominal_size", "B"), ""),
        ("Calculation", cell_of(before, "bore", "B"), 101.6),
        ("Calculation", cell_of(before, "water_temperature", "B"), 12.05),
    ]
    sheets = opened.workbook(path, changes)
    answer = asked("pipe/velocity", flow="1234.567 L/min", bore="101.6 mm", water_temperature="12.05 degC", units="us")
    assert compared(answer, sheets) > 0
    assert answer.warnings
    assert answer.warnings[0].message in {cell.text for row in sheets["Calculation"] for cell in row}


def test_a_changed_list_is_asked_anew(opened: Office, server: ServerProcess, tmp_path: Path) -> None:
    path = download(server, "chlorine/shock", tmp_path)
    rows = opened.workbook(path)["vessels"]
    column = [cell.text for cell in rows[3]].index("volume")
    letter = "ABCDEFGHIJKLMNOP"[column]
    example = msgspec.json.decode(msgspec.json.encode(dict(calculations()["chlorine/shock"].example)))
    free = 5 + len(example["vessels"])  # the first row below the example's own
    changes = [("vessels", f"A{free}", "plain_volume"), ("vessels", f"{letter}{free}", "12.5 gal")]
    sheets = opened.workbook(path, changes)
    example["vessels"].append({"kind": "plain_volume", "volume": "12.5 gal"})
    assert compared(asked("chlorine/shock", **example, units="metric"), sheets) > 0


def test_a_refusal_is_told_where_the_answer_would_stand(opened: Office, server: ServerProcess, tmp_path: Path) -> None:
    path = download(server, "pipe/velocity", tmp_path)
    before = opened.workbook(path)
    sheets = opened.workbook(path, [("Calculation", cell_of(before, "flow", "B"), "2,500")])
    assert state(sheets).startswith("ERROR: flow: ")
    assert "comma" in state(sheets)
    assert results(sheets)["velocity"][0].text == ""


def test_a_service_that_does_not_answer(opened: Office, server: ServerProcess, tmp_path: Path) -> None:
    path = download(server, "pipe/velocity", tmp_path)
    sheets = opened.workbook(path, [("Calculation", "B4", "http://127.0.0.1:9")])
    assert state(sheets).startswith("No answer. Check that the service runs")
    assert results(sheets)["velocity"][0].text == ""


def test_the_formulas_of_the_guide(opened: Office, server: ServerProcess) -> None:
    page = fetched(server, "/guides/libreoffice").decode()
    formulas = [html.unescape(code) for code in re.findall(r"<pre><code>(=.*?)</code></pre>", page, re.DOTALL)]
    assert len(formulas) == 3
    velocity = asked("pipe/velocity", flow="9 gal/min", bore="20 mm", units="metric").velocity
    for formula in formulas:
        written = re.sub(r"\b([AB]1)\b", r"[.\1]", formula).replace("[.A1]", "[.A1]")
        cells = opened.recalculate([[9.0, "gal/min", written]])[0]
        assert cells[2].value == pytest.approx(velocity, rel=1e-14), formula
    assert "libreoffice" in GUIDES


def test_a_long_answer_arrives_whole(opened: Office, server: ServerProcess) -> None:
    length = len(fetched(server, "/openapi.json").decode())
    assert length > 70_000
    (cell,) = opened.evaluate(f'=LEN(WEBSERVICE("{server.base_url}/openapi.json"))')
    assert cell.value == length
