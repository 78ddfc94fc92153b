"""Answers as tables and as XML in real LibreOffice, with a decimal point and with a decimal comma."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

import pytest

from dosewright.engine.base import Answer
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.present.rows import own_leaves

if TYPE_CHECKING:
    from calc_sheets import Cell, Office

    from serverproc import ServerProcess

LANGUAGES = ["office", "german_office"]
VELOCITY = "/v1/pipe/velocity?flow=9+gal/min&bore=20+mm&units=us"
# Numbers that a German reader of an English text takes for another, for a date or for a text.
TREACHEROUS = {"flow": "1234.567 L/min", "bore": "101.6 mm", "water_temperature": "12.05 degC"}


@pytest.fixture(params=LANGUAGES)
def sheet(request: pytest.FixtureRequest) -> Office:
    return request.getfixturevalue(request.param)


def compared(answer: Answer, cells: list[list[Cell]]) -> int:
    """Compare a linked table with an answer; return how many numbers agreed."""
    found = {row[0].text: row[1] for row in cells}
    numbers = 0
    for name, value in own_leaves(answer):
        if isinstance(value, float):
            assert (found[name].kind, found[name].value) == ("number", pytest.approx(value, rel=1e-14)), name
            numbers += 1
        elif isinstance(value, str):
            assert (found[name].kind, found[name].text) == ("text" if value else "empty", value), name
    return numbers


# A plan's HTML is a page to print; its table is the CSV.
@pytest.mark.parametrize("path", [path for path in calculations() if path != "site/plan"])
def test_an_html_table_is_read_right(sheet: Office, server: ServerProcess, path: str) -> None:
    answer: Answer = run(path, calculations()[path].example)
    cells = sheet.linked(f"{server.base_url}{answer.question}&format=html", "HTML_1", 700, 3)
    assert compared(answer, cells) > 0


@pytest.mark.parametrize("source", ["HTML_1", "CSV"])
def test_numbers_that_another_locale_misreads(sheet: Office, server: ServerProcess, source: str) -> None:
    answer = run("pipe/velocity", TREACHEROUS)
    asked = "&".join(f"{name}={quote(value)}" for name, value in TREACHEROUS.items())
    form = "html" if source == "HTML_1" else "csv"
    cells = sheet.linked(f"{server.base_url}/v1/pipe/velocity?{asked}&format={form}", source, 20, 3)
    assert compared(answer, cells) > 3


def test_a_size_written_as_a_fraction_does_not_become_a_date(sheet: Office, server: ServerProcess) -> None:
    asked = "/v1/pipe/velocity?flow=9+gal/min&material=copper_type_l&nominal_size=3/4"
    cells = sheet.linked(f"{server.base_url}{asked}&format=html", "HTML_1", 12, 3)
    size = next(row[1] for row in cells if row[0].text == "smallest_nominal_size")
    assert (size.kind, size.text) == ("text", "3/4")


def test_xml_by_path_as_text_and_as_number(sheet: Office, server: ServerProcess) -> None:
    fetched = f'WEBSERVICE("{server.base_url}{VELOCITY}&format=xml")'
    as_text, number, unit, caution, missing = sheet.evaluate(
        f'=NUMBERVALUE(FILTERXML({fetched};"//velocity");".";",")',
        f'=FILTERXML({fetched};"number(//velocity)")',
        f'=FILTERXML({fetched};"//velocity/@unit")',
        f'=FILTERXML({fetched};"//cautions/item[1]/message")',
        f'=FILTERXML({fetched};"//velocty")',
    )
    answer = run("pipe/velocity", {"flow": "9 gal/min", "bore": "20 mm", "units": "us"})
    assert as_text.value == pytest.approx(answer.velocity, rel=1e-14)
    assert number.value == pytest.approx(answer.velocity, rel=1e-14)
    assert unit.text == "ft/s"
    assert caution.text == answer.cautions[0].message
    assert missing.kind == "error"


def test_a_decimal_comma_in_and_out(german_office: Office, server: ServerProcess) -> None:
    address = f"{server.base_url}/v1/pipe/velocity?units=us&bore=0,8&pick=velocity&decimal=comma"
    formula = f'=VALUE(WEBSERVICE("{address}&flow="&[.A1]))'
    cells = german_office.recalculate([[2.5, formula]])[0]
    answer = run("pipe/velocity", {"units": "us", "flow": 2.5, "bore": 0.8})
    assert cells[1].value == pytest.approx(answer.velocity, rel=1e-14)


@pytest.mark.parametrize(
    "share", ['"75 %"', 'ENCODEURL("75 %")', '"75%25"', '"75+%25"', '"75%"', 'ENCODEURL([.A1]&" %")', '[.A1]&"%25"']
)
def test_percent_signs_and_spaces_as_the_office_sends_them(sheet: Office, server: ServerProcess, share: str) -> None:
    example = dict(calculations()["uv/dose"].example)
    rest = "&".join(f"{name}={quote(str(value))}" for name, value in example.items() if name != "uvt")
    address = f'"{server.base_url}/v1/uv/dose?pick=mean_dose&{rest}&uvt="&{share}'
    cells = sheet.recalculate([[75.0, f'=NUMBERVALUE(WEBSERVICE({address});".";",")']])[0]
    assert cells[1].value == pytest.approx(run("uv/dose", {**example, "uvt": "75 %"}).mean_dose, rel=1e-14)


@pytest.mark.parametrize("flow", ['"9 m³/h"', 'ENCODEURL("9 m³/h")', '"9+m3/h"', 'ENCODEURL("+9 m³/h")'])
def test_a_raised_three_and_a_plus_as_the_office_sends_them(sheet: Office, server: ServerProcess, flow: str) -> None:
    address = f'"{server.base_url}/v1/pipe/velocity?pick=velocity&bore=20+mm&flow="&{flow}'
    (cell,) = sheet.evaluate(f'=NUMBERVALUE(WEBSERVICE({address});".";",")')
    assert cell.value == pytest.approx(run("pipe/velocity", {"flow": "9 m3/h", "bore": "20 mm"}).velocity, rel=1e-14)


@pytest.mark.parametrize("size", ['"1.5 µm"', 'ENCODEURL("1.5 µm")'])
def test_a_micro_sign_as_the_office_sends_it(office: Office, server: ServerProcess, size: str) -> None:
    fixed = "/v1/pipe/pressure-drop?pick=pressure_drop&flow=9+gal/min&segments=pipe;length:60+ft;bore:20+mm;roughness:"
    (cell,) = office.evaluate(f'=NUMBERVALUE(WEBSERVICE("{server.base_url}{fixed}"&{size});".";",")')
    pipe = {"kind": "pipe", "length": "60 ft", "bore": "20 mm", "roughness": "1.5 um"}
    answer = run("pipe/pressure-drop", {"flow": "9 gal/min", "segments": [pipe]})
    assert cell.value == pytest.approx(answer.pressure_drop, rel=1e-14)


def test_a_refusal_can_be_read_in_the_cell(sheet: Office, server: ServerProcess) -> None:
    address = f"{server.base_url}/v1/pipe/velocity?flow=9&bore=20+mm&pick=velocity&errors=text"
    (cell,) = sheet.evaluate(f'=WEBSERVICE("{address}")')
    assert cell.text.startswith("ERROR: flow: ")
    assert "has no unit" in cell.text


def test_numbers_very_small_and_very_large(sheet: Office, server: ServerProcess) -> None:
    for path, request in (
        ("pipe/velocity", {"flow": "0.00001 L/min", "bore": "1000 mm"}),
        ("pipe/velocity", {"flow": "0.3 m3/s", "bore": "4 mm"}),
    ):
        answer = run(path, request)
        asked = "&".join(f"{name}={quote(value)}" for name, value in request.items())
        address = f"{server.base_url}/v1/{path}?{asked}"
        (cell,) = sheet.evaluate(f'=NUMBERVALUE(WEBSERVICE("{address}&pick=velocity");".";",")')
        assert cell.value == pytest.approx(answer.velocity, rel=1e-14), cell
        table = sheet.linked(f"{address}&format=html", "HTML_1", 12, 3)
        assert compared(answer, table) > 0
