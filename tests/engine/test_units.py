"""Units against pint and against published factors."""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pint
import pytest

from dosewright.quantities import KINDS, PROFILES, Kind
from unit_rows import BY_DIMENSION, KIND, REGISTRY, UNITS, in_si

if TYPE_CHECKING:
    from collections.abc import Iterator

# Factors as they are printed, one a unit, with source and with how the print was checked (found or memory). A factor
# that is not exact is a rounding to seven digits.
PRINTED = {
    (row["dimension"], row["symbol"]): row
    for row in csv.DictReader((Path(__file__).parents[1] / "reference" / "units.csv").read_text("utf-8").splitlines())
}

# Temperatures that both scales of a thermometer print beside each other, with the formulas of NIST SP 811 (2008)
# appendix B.8: T/K = t/degC + 273.15 and T/K = (t/degF + 459.67)/1.8.
TEMPERATURES = [
    ("0 K", 0.0),
    ("0 degC", 273.15),
    ("32 degF", 273.15),
    ("100 degC", 373.15),
    ("212 degF", 373.15),
    ("-40 degC", 233.15),
    ("-40 degF", 233.15),
    ("-459.67 degF", 0.0),
    ("50 degF", 283.15),
    ("10 degC", 283.15),
]


def spellings() -> Iterator[Any]:
    """Yield each row of the units with each way to write it."""
    for row in UNITS:
        for spelling in [row["symbol"], *row["spellings"].split()]:
            yield pytest.param(row, spelling, id=f"{row['dimension']}-{spelling}")


@pytest.mark.parametrize(("row", "spelling"), list(spellings()))
@pytest.mark.parametrize("value", ["1", "12.5", "-7e-3"])
def test_a_unit_in_any_spelling_is_what_pint_makes_of_it(row: dict[str, str], spelling: str, value: str) -> None:
    kind = BY_DIMENSION[row["dimension"]]
    base = next(unit for unit in UNITS if unit["dimension"] == kind.dimension and unit["factor"] == "1")
    # Pint's parser reads our own expressions only; temperatures are built, since it would multiply their offset.
    asked = REGISTRY.parse_expression(row["pint"])
    if kind.dimension == "temperature":
        expected = REGISTRY.Quantity(float(value), row["pint"]).to("kelvin")
    else:
        expected = (float(value) * asked).to(REGISTRY.parse_units(base["pint"]))
    # A unit that starts with a digit needs its space.
    glued = [f"{value}{spelling}"] if spelling[0] != "1" else []
    for text in (f"{value} {spelling}", f"  {value}   {spelling} ", *glued):
        assert in_si(text, kind) == pytest.approx(expected.magnitude, rel=1e-14)
    assert in_si({"value": float(value), "unit": spelling}, kind) == in_si(f"{value} {spelling}", kind)


def known_to_pint() -> list[Any]:
    """Return the rows and spellings that pint's own names also know, with what pint makes of them."""
    found: list[Any] = []
    for row in UNITS:
        for spelling in [row["symbol"], *row["spellings"].split()]:
            plain = re.fullmatch(r"[A-Za-zµ_]+([*/][A-Za-z]+[23]?)*|[A-Za-z]+[23]", spelling)
            if not plain or row["dimension"].startswith("temperature"):
                continue
            try:
                theirs = 1.0 * REGISTRY.parse_expression(re.sub(r"(?<=[A-Za-z])([23])", r"**\1", spelling))
            except (pint.UndefinedUnitError, pint.DefinitionSyntaxError):
                continue
            if theirs.dimensionality == (1.0 * REGISTRY.parse_expression(row["pint"])).dimensionality:
                found.append(pytest.param(row, theirs, id=f"{row['dimension']}-{spelling}"))
    return found


KNOWN_TO_PINT = known_to_pint()


def test_pint_knows_most_of_the_spellings_by_itself() -> None:
    assert len(KNOWN_TO_PINT) > 120


@pytest.mark.parametrize(("row", "theirs"), KNOWN_TO_PINT)
def test_a_spelling_that_pint_knows_by_itself_means_the_same_there(row: dict[str, str], theirs: Any) -> None:
    ours = 1.0 * REGISTRY.parse_expression(row["pint"])
    assert theirs.to(ours.units).magnitude == pytest.approx(ours.magnitude, rel=1e-12)


def test_every_unit_has_a_printed_factor() -> None:
    scales = {("temperature", symbol) for symbol in ("K", "degC", "degF")}  # see TEMPERATURES
    assert set(PRINTED) | scales == {(row["dimension"], row["symbol"]) for row in UNITS}


@pytest.mark.parametrize(("dimension", "symbol"), list(PRINTED), ids=str)
def test_a_unit_has_the_factor_that_is_printed_for_it(dimension: str, symbol: str) -> None:
    row = PRINTED[dimension, symbol]
    printed = float(row["printed"])
    half_a_digit = 0.5 * 10.0 ** (math.floor(math.log10(printed)) - 6)
    allowed = 1e-15 * printed if row["exact"] == "yes" else half_a_digit * (1 + 1e-9)
    assert abs(in_si(f"1 {symbol}", BY_DIMENSION[dimension]) - printed) <= allowed


@pytest.mark.parametrize(("text", "kelvin"), TEMPERATURES)
def test_a_temperature_is_the_one_both_scales_print(text: str, kelvin: float) -> None:
    assert in_si(text, KINDS["temperature"]) == pytest.approx(kelvin, abs=1e-12)


def test_a_gallon_is_the_us_gallon_unless_it_says_imperial() -> None:
    assert in_si("1 gal", KINDS["volume"]) == pytest.approx(231 * 0.0254**3, rel=1e-15)
    assert in_si("1 gpm", KINDS["flow"]) == pytest.approx(231 * 0.0254**3 / 60, rel=1e-15)
    assert in_si("1 imp_gal", KINDS["volume"]) == 4.54609e-3
    assert in_si("1 igpm", KINDS["flow"]) == pytest.approx(4.54609e-3 / 60, rel=1e-15)


@KIND
def test_a_kind_has_a_known_unit_in_each_profile(kind: Kind) -> None:
    assert set(kind.profiles) == set(PROFILES)
    for unit in kind.profiles.values():
        assert kind.lookup[unit.symbol] is unit
    assert kind.profiles["si"].from_si(kind.profiles["si"].to_si(3.0)) == 3.0
    assert kind.title
    assert list(kind.symbols) == [row["symbol"] for row in UNITS if row["dimension"] == kind.dimension]


@KIND
def test_the_si_profile_is_the_unit_that_calculations_work_in(kind: Kind) -> None:
    assert (kind.profiles["si"].factor, kind.profiles["si"].offset) == (1.0, 0.0)


def test_no_spelling_means_two_units_of_a_dimension() -> None:
    seen: dict[tuple[str, str], str] = {}
    for row in UNITS:
        for spelling in [row["symbol"], *row["spellings"].split()]:
            assert (row["dimension"], spelling) not in seen
            seen[row["dimension"], spelling] = row["symbol"]
            assert spelling == spelling.strip()
            assert len(spelling) <= 16
