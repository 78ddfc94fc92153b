"""Every calculation in a cell of real LibreOffice: what the cell holds is what a script gets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec
import pytest

from dosewright.engine.base import Answer
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright_sdk import InProcess
from readme import SHOWN_ADDRESS, lines_that_start_with

if TYPE_CHECKING:
    from collections.abc import Iterator

    from calc_sheets import Office

    from serverproc import ServerProcess

COMMON = set(Answer.__struct_fields__)
LONGEST_QUESTION = 1900  # 2,048 with the server's address and the name of the value


def own_values(value: Any, name: str = "") -> Iterator[tuple[str, Any]]:
    """Yield each value of an answer under the name it is picked by."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from own_values(inner, f"{name}.{key}" if name else key)
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from own_values(inner, f"{name}.{index}")
    elif value is not None:
        yield name, value


def answer_in_process(path: str, units: str) -> dict[str, Any]:
    entry = calculations()[path]
    method = getattr(getattr(InProcess(), entry.topic), entry.name.replace("-", "_"))
    return msgspec.to_builtins(method(**entry.example, units=units))


def fits_a_cell(path: str) -> bool:
    """Tell whether an address fits what spreadsheets take; a whole plan's does not, and is asked by its parts."""
    return len(run(path, {**calculations()[path].example, "units": "us"}).question or "") < LONGEST_QUESTION


def in_pieces(address: str) -> str:
    """Write an address as texts of a formula, none longer than a spreadsheet takes."""
    pieces = [address[start : start + 250] for start in range(0, len(address), 250)]
    return "&".join(f'"{piece}"' for piece in pieces)


@pytest.mark.parametrize("path", [path for path in calculations() if fits_a_cell(path)])
@pytest.mark.parametrize("language", ["office", "german_office"])
def test_each_value_of_a_calculation_arrives_in_a_cell(
    request: pytest.FixtureRequest, server: ServerProcess, language: str, path: str
) -> None:
    office: Office = request.getfixturevalue(language)
    answer = answer_in_process(path, "us")
    values = dict(own_values({name: inner for name, inner in answer.items() if name not in COMMON}))
    formulas: list[str] = []
    for name, value in values.items():
        address = f"{server.base_url}{answer['question']}&pick={name}"
        fetched = f"WEBSERVICE({in_pieces(address)})"
        formulas.append(f'=NUMBERVALUE({fetched};".";",")' if type(value) in {int, float} else f"={fetched}")
    assert answer["question"]
    assert any(isinstance(value, float) for value in values.values())
    for (name, value), cell in zip(values.items(), office.evaluate(*formulas), strict=True):
        if type(value) in {int, float}:
            assert cell.kind == "number", (name, cell)
            assert cell.value == pytest.approx(value, rel=1e-14), name  # a cell takes 15 digits of a text
        else:
            assert cell.text == (str(value).lower() if isinstance(value, bool) else value), name


def test_a_question_built_from_cells(office: Office, german_office: Office, server: ServerProcess) -> None:
    expected = InProcess().pipe.velocity(flow="9.5 gal/min", bore="0.8 in", units="us")
    address = f"{server.base_url}/v1/pipe/velocity?units=us&pick=velocity"
    for sheet in (office, german_office):
        flow, bore = ('SUBSTITUTE([.A1];",";".")', 'SUBSTITUTE([.B1];",";".")')
        fetched = f'WEBSERVICE("{address}&flow="&{flow}&"&bore="&{bore})'
        cells = sheet.recalculate([[9.5, 0.8, f'=NUMBERVALUE({fetched};".";",")']])[0]
        assert cells[2].value == pytest.approx(expected.velocity, rel=1e-14)


def test_a_decimal_comma_is_an_error_in_the_cell_and_never_another_number(
    german_office: Office, server: ServerProcess
) -> None:
    address = f"{server.base_url}/v1/pipe/velocity?units=us&bore=1&pick=velocity"
    (cells,) = german_office.recalculate([[2.5, f'=WEBSERVICE("{address}&flow="&[.A1])']])
    assert cells[1].kind == "error"
    assert cells[1].error != 540  # 540: the office would not even ask


def test_a_misspelt_name_is_an_error_in_the_cell(office: Office, server: ServerProcess) -> None:
    address = f"{server.base_url}/v1/pipe/velocity?flow=9%20gpm&bor=20%20mm&pick=velocity"
    refused, caught = office.evaluate(f'=WEBSERVICE("{address}")', f'=IFERROR(WEBSERVICE("{address}");"refused")')
    assert refused.kind == "error"
    assert caught.text == "refused"


@pytest.mark.parametrize("formula", lines_that_start_with("="))
def test_a_formula_of_the_readme_works_in_both_languages(
    office: Office, german_office: Office, server: ServerProcess, formula: str
) -> None:
    there = formula.replace(SHOWN_ADDRESS, server.base_url)
    assert there != formula
    (english,), (german,) = office.evaluate(there), german_office.evaluate(there)
    assert english.kind == german.kind == "number"
    assert english.value == german.value


def test_the_readme_shows_a_formula() -> None:
    assert lines_that_start_with("=")
