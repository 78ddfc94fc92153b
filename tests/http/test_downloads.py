"""Workbooks and guides as files and pages: what is in them before any spreadsheet opens them."""

import io
import re
import zipfile
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from asgi import get, send
from dosewright.cli import main
from dosewright.engine.registry import calculations
from dosewright.http.downloads import GUIDES
from dosewright.present.workbook.excel import excel_formula
from dosewright.present.workbook.grid import Formula, column_name
from dosewright.present.workbook.layout import book_of

PATHS = list(calculations())
HOST = {"host": "sheets.example:8254"}


def formulas(path: str) -> list[Formula]:
    cells = (cell for sheet in book_of(path).sheets for cell in sheet.cells.values())
    return [cell.content for cell in cells if isinstance(cell.content, Formula)]


# Files


@pytest.mark.parametrize("path", PATHS)
def test_a_workbook_is_served_and_asks_the_service_it_came_from(path: str) -> None:
    name = f"{path.replace('/', '-')}.xlsx"
    reply = get(f"/workbooks/{name}", HOST)
    assert reply.status == 200
    assert reply.headers["content-disposition"] == f'attachment; filename="{name}"'
    assert "no-cache" in reply.headers["cache-control"]
    with zipfile.ZipFile(io.BytesIO(reply.body)) as package:
        assert package.testzip() is None
        parts = {part: package.read(part) for part in package.namelist()}
    for part, body in parts.items():
        if part.endswith((".xml", ".rels")):
            ET.fromstring(body)  # noqa: S314 - our own file
    assert any(b"http://sheets.example:8254" in body for body in parts.values())


@pytest.mark.parametrize("host", ['evil.example/"><script>', "evil_example", "", "evil.example:99999999"])
def test_an_unbelievable_host_is_not_written_into_a_workbook(host: str) -> None:
    reply = get("/workbooks/pipe-velocity.xlsx", {"host": host} if host else {})
    if reply.status == 400:
        assert b"evil" not in reply.body
        return
    with zipfile.ZipFile(io.BytesIO(reply.body)) as package:
        content = package.read("xl/sharedStrings.xml")
    assert b"evil" not in content
    assert b"http://127.0.0.1:8254" in content


def test_behind_a_proxys_path() -> None:
    reply = send("GET", "/workbooks/pipe-velocity.xlsx", headers=HOST, root_path="/tools")
    with zipfile.ZipFile(io.BytesIO(reply.body)) as package:
        assert b"http://sheets.example:8254/tools<" in package.read("xl/sharedStrings.xml")
    page = send("GET", "/workbooks", headers=HOST, root_path="/tools").body
    assert b'href="/tools/workbooks/pipe-velocity.xlsx"' in page
    assert b'href="/tools/guides/style.css"' in page


@pytest.mark.parametrize(
    "name", ["pipe-velocity.pdf", "pipe-velocity.ods", "pipe-velocty.xlsx", "pipe-velocity", "..%2Fapp.py"]
)
def test_there_is_no_other_workbook(name: str) -> None:
    assert get(f"/workbooks/{name}").status == 404


def test_the_list_links_to_every_workbook() -> None:
    page = get("/workbooks").body.decode()
    for path in PATHS:
        assert f'href="/workbooks/{path.replace("/", "-")}.xlsx"' in page


def test_the_command_writes_them_all(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["workbooks", str(tmp_path / "made"), "--address", "https://dosewright.example"]) == 0
    written = sorted(file.name for file in (tmp_path / "made").iterdir())
    assert written == sorted(f"{path.replace('/', '-')}.xlsx" for path in PATHS)
    assert len(capsys.readouterr().out.splitlines()) == len(written)
    with zipfile.ZipFile(tmp_path / "made" / "pipe-velocity.xlsx") as package:
        assert b"https://dosewright.example" in package.read("xl/sharedStrings.xml")


# Formulas


@pytest.mark.parametrize("path", PATHS)
def test_formulas_keep_to_what_spreadsheets_take(path: str) -> None:
    found = formulas(path)
    assert sum("WEBSERVICE(" in formula.text for formula in found) >= 1
    for formula in found:
        written = excel_formula(formula.text)
        assert len(written) < 8192
        assert all(len(text) <= 255 for text in re.findall(r'"((?:[^"]|"")*)"', written))
        assert written.count("(") == written.count(")")
        if isinstance(formula.value, str):
            assert len(formula.value) < 32_767
            if formula.value.startswith("http"):
                assert len(formula.value) < 2048


def test_one_request_brings_the_whole_answer() -> None:
    for path in PATHS:
        rows = len(cases.values) if (cases := calculations()[path].views.cases) else 0
        assert sum("WEBSERVICE(" in formula.text for formula in formulas(path)) == 1 + rows


def test_a_formula_as_the_file_holds_it() -> None:
    formula = 'IF([B5]="a;""b[";WEBSERVICE([$A$1]&[Answer!$A$2]);ENCODEURL("x"))'
    assert excel_formula(formula) == ('=IF(B5="a;""b[",_xlfn.WEBSERVICE($A$1&\'Answer\'!$A$2),_xlfn.ENCODEURL("x"))')


def test_columns_are_lettered_on_past_z() -> None:
    assert [column_name(column) for column in (0, 25, 26, 701, 702)] == ["A", "Z", "AA", "ZZ", "AAA"]


def test_every_input_and_result_has_its_place() -> None:
    for path, entry in calculations().items():
        book = book_of(path)
        told = {cell.content for sheet in book.sheets for cell in sheet.cells.values() if isinstance(cell.content, str)}
        answer_fields = set(entry.answer.__struct_fields__) - {"units", "inputs", "defaults", "question"}
        for name in answer_fields - {"warnings", "cautions", "basis", "version"}:
            assert any(one == name or one.startswith((f"{name}.", f"{name}: ")) for one in told), name
        for name in set(entry.request.__struct_fields__) - {"units", "answer_units"}:
            assert any(one == name or one.startswith(f"{name}.") for one in told), name


# Guides


def test_the_guides_are_listed_and_each_is_one_page() -> None:
    page = get("/guides").body.decode()
    for name, title in GUIDES.items():
        assert f'href="/guides/{name}"' in page
        reply = get(f"/guides/{name}", HOST)
        assert reply.status == 200
        text = reply.body.decode()
        assert f"Dosewright in {title}" in text
        assert "{address}" not in text
        assert "{root}" not in text
        assert "http://sheets.example:8254" in text
        for word in ("Tested: ",) if name == "libreoffice" else ("Not tested in",):
            if word in text:
                break
        else:
            pytest.fail(f"{name} does not say what was tried")
        for heading in ("Limits", "Refresh and caching"):
            assert f"<h2>{heading}</h2>" in text
        assert len(text.split()) < 900


def test_a_guide_may_load_nothing_but_its_style() -> None:
    reply = get("/guides/excel")
    assert "style-src 'self'" in reply.headers["content-security-policy"]
    assert get("/guides/style.css").headers["content-type"].startswith("text/css")
    assert get("/guides/lotus").status == 404


def test_texts_in_the_guides_formulas_are_short_enough() -> None:
    for name in GUIDES:
        for code in re.findall(r"<pre><code>(=.*?)</code></pre>", get(f"/guides/{name}").body.decode(), re.DOTALL):
            assert all(len(text) <= 255 for text in re.findall(r'"((?:[^"]|"")*)"', code))
