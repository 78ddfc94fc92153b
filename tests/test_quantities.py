"""Reading and writing quantities: units against pint and against published factors, hostile texts, round trips."""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import hypothesis.strategies as st
import numpy as np
import pint
import pytest
from hypothesis import example, given

from dosewright.quantities import KINDS, PROFILES, Kind, Quantity, Unreadable, from_pint, read, spoken
from dosewright.tables import table

if TYPE_CHECKING:
    from collections.abc import Iterator

REGISTRY = pint.UnitRegistry()
UNITS = table("units").rows
BY_DIMENSION: dict[str, Kind] = {kind.dimension: kind for kind in KINDS.values()}
KIND = pytest.mark.parametrize("kind", list(KINDS.values()), ids=list(KINDS))

# Factors as they are printed, one a unit, with source and with how the print was checked (found or memory). A factor
# that is not exact is a rounding to seven digits.
PRINTED = {
    (row["dimension"], row["symbol"]): row
    for row in csv.DictReader((Path(__file__).parent / "reference" / "units.csv").read_text("utf-8").splitlines())
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


def in_si(text: object, kind: Kind) -> float:
    value, unit = read(text, kind, None)
    return float(unit.to_si(value))


def refused(value: object, kind: Kind = KINDS["flow"], profile: Any = None) -> Unreadable:
    with pytest.raises(Unreadable) as caught:
        read(value, kind, profile)
    assert 0 < len(caught.value.message) < 500
    return caught.value


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


# What a stranger may write where a flow is wanted, and the code it is refused with.
HOSTILE: list[tuple[object, str]] = [
    ("10**10**10 m", "unit_unknown"),
    ("6^800000", "unit_unknown"),
    ("6^800000 gal/min", "unit_unknown"),
    ("9 gal/min^2", "unit_unknown"),
    ("(((((9)))))", "number_unreadable"),
    ("[9] gal/min", "number_unreadable"),
    ("9 (gal/min)", "unit_unknown"),
    ("9 gal / min", "unit_unknown"),
    ("9*gal/min", "unit_unknown"),
    ("9 gal/min + 1 gal/min", "unit_unknown"),
    ("nan gal/min", "number_unreadable"),
    ("NaN", "number_unreadable"),
    ("inf gal/min", "number_unreadable"),
    ("-Infinity", "number_unreadable"),
    ("1e400 gal/min", "number_not_finite"),
    ("-1e9999 gal/min", "number_not_finite"),
    ("1e99999 gal/min", "number_unreadable"),
    ("９ gal/min", "number_unreadable"),
    ("٣ gal/min", "number_unreadable"),
    ("9\u00b2 gal/min", "number_unreadable"),
    ("½ gal/min", "number_unreadable"),
    ("1_0 gal/min", "unit_unknown"),
    ("0x1F gal/min", "unit_unknown"),
    ("1e gal/min", "unit_unknown"),
    ("1.2.3 gal/min", "number_unreadable"),
    ("--9 gal/min", "number_unreadable"),
    ("- 9 gal/min", "number_unreadable"),
    (". gal/min", "number_unreadable"),
    ("2,500", "decimal_comma"),
    ("2,500 gal/min", "decimal_comma"),
    ("2,5 gal/min", "decimal_comma"),
    ("1,234,567.8 gal/min", "decimal_comma"),
    (",5 gal/min", "decimal_comma"),
    ("9 gal", "unit_wrong_dimension"),
    ("9 psi", "unit_wrong_dimension"),
    ("9 %", "unit_wrong_dimension"),
    ("9 MGD", "unit_unknown"),
    ("9 GAL/MIN", "unit_unknown"),
    ("9 gal/min\x00", "unit_unknown"),
    ("9\u202egal/min", "unit_unknown"),
    ("9 gal/min'; drop table units", "unit_unknown"),
    ("__import__('os').system('true')", "number_unreadable"),
    ("{value: 9}", "number_unreadable"),
    ("gal/min", "number_unreadable"),
    ("", "number_unreadable"),
    (" ", "number_unreadable"),
    ("9 gal/min" + " " * 100, "text_too_long"),
    ("9" * 65, "text_too_long"),
    ("(" * 100_000, "text_too_long"),
    ("9", "unit_missing"),
    (9, "unit_missing"),
    (9.0, "unit_missing"),
    (True, "number_unreadable"),
    (False, "number_unreadable"),
    (None, "number_unreadable"),
    (math.nan, "number_not_finite"),
    (math.inf, "number_not_finite"),
    (-math.inf, "number_not_finite"),
    (10**400, "number_not_finite"),
    (-(10**400), "number_not_finite"),
    (9j, "number_unreadable"),
    (b"9 gal/min", "number_unreadable"),
    (range(3), "number_unreadable"),
    ({"value": 9}, "quantity_form"),
    ({"unit": "gal/min"}, "quantity_form"),
    ({}, "quantity_form"),
    ({"value": 9, "unit": "gal/min", "more": 1}, "quantity_form"),
    ({"value": 9, "unit": None}, "unit_missing"),
    ({"value": 9, "unit": 5}, "unit_missing"),
    ({"value": 9, "unit": "psi"}, "unit_wrong_dimension"),
    ({"value": 9, "unit": ""}, "unit_missing"),
    ({"value": 9, "unit": "x" * 100_000}, "unit_unknown"),
    ({"value": "9 gal/min", "unit": "gal/min"}, "number_unreadable"),
    ({"value": "1" * 100_000, "unit": "gal/min"}, "text_too_long"),
    ({"value": True, "unit": "gal/min"}, "number_unreadable"),
    ({"value": None, "unit": "gal/min"}, "number_unreadable"),
    ({"value": math.nan, "unit": "gal/min"}, "number_not_finite"),
    ({"value": 10**400, "unit": "gal/min"}, "number_not_finite"),
    ({"value": {"value": 9, "unit": "gal/min"}, "unit": "gal/min"}, "number_unreadable"),
    (Quantity(math.inf, "gal/min"), "number_not_finite"),
    (Quantity(9.0, "furlong/fortnight"), "unit_unknown"),
]


@pytest.mark.parametrize(("value", "code"), HOSTILE, ids=lambda part: repr(part)[:40])
def test_what_is_no_quantity_is_refused_under_its_code(value: object, code: str) -> None:
    fault = refused(value)
    assert fault.code == code
    assert fault.allowed


@pytest.mark.parametrize("profile", PROFILES)
def test_a_profile_makes_no_difference_to_what_is_no_number(profile: str) -> None:
    for value, code in HOSTILE:
        bare = type(value) in {int, float} or value == "9"
        if code != "unit_missing" or not bare:
            assert refused(value, profile=profile).code == code, value


@pytest.mark.parametrize(("value", "shown"), [("9", "9"), (9, "9"), (9.5, "9.5")])
def test_a_bare_number_is_refused_with_three_ways_to_mend_it(value: object, shown: str) -> None:
    fault = refused(value)
    assert f'"{shown} L/min"' in fault.message
    assert f'{{"value": {shown}, "unit": "L/min"}}' in fault.message
    assert "units: us, metric or si" in fault.message
    # Each of the ways is good.
    assert in_si(f"{shown} L/min", KINDS["flow"]) == in_si({"value": float(shown), "unit": "L/min"}, KINDS["flow"])
    assert read(value, KINDS["flow"], "metric")[1].symbol == "L/min"


@KIND
@pytest.mark.parametrize("profile", PROFILES)
def test_a_bare_number_is_in_the_unit_of_the_profile(kind: Kind, profile: Any) -> None:
    symbol = kind.profiles[profile].symbol
    for bare in ("2.5", 2.5, np.float64(2.5)):
        value, unit = read(bare, kind, profile)
        assert (value, unit) == (2.5, kind.profiles[profile])
    assert read(f"2.5 {symbol}", kind, None)[1] is unit


def test_a_unit_of_its_own_wins_over_the_profile() -> None:
    assert read("9 L/s", KINDS["flow"], "us")[1].symbol == "L/s"


def test_a_plain_number_takes_no_unit() -> None:
    assert in_si("7.4", KINDS["plain"]) == 7.4
    assert in_si(7, KINDS["plain"]) == 7.0
    fault = refused("7.4 mg/L", KINDS["plain"])
    assert fault.code == "unit_not_allowed"
    assert "'mg/L'" in fault.message


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("9 gal/mn", "gal/min"),
        ("9 L/mins", "L/min"),
        ("9 Gal/Min", "gal/min"),
        ("9 m3/hour", "m3/h"),
        ("9 gpmm", "gal/min"),
    ],
)
def test_a_misspelt_unit_is_told_the_nearest(text: str, meant: str) -> None:
    fault = refused(text)
    assert fault.code == "unit_unknown"
    guess = re.search(r"Did you mean '(.+)'\?$", fault.message)
    assert guess
    assert KINDS["flow"].lookup[guess[1]].symbol == meant
    assert set(fault.allowed or ()) == set(KINDS["flow"].symbols)


def test_a_unit_of_another_dimension_is_told_its_own() -> None:
    message = refused("9 gal").message
    assert "'gal' is a unit of volume, but flow is wanted" in message


def test_what_is_repeated_of_a_callers_text_is_short() -> None:
    assert spoken("x" * 100_000) == f"{'x' * 40}… (100000 characters)"
    assert len(spoken(10**4000)) < 100
    assert len(spoken([1] * 1000)) < 100
    assert len(spoken(10**10_000)) < 100
    assert len(spoken({"value": "9" * 100_000, "unit": "m" * 100_000})) < 100


FINITE = st.floats(allow_nan=False, allow_infinity=False)
UNIT = st.sampled_from([(kind, unit) for kind in KINDS.values() for unit in {*kind.lookup.values()} if unit.symbol])


@given(value=FINITE, unit=UNIT)
@example(value=-0.0, unit=(KINDS["flow"], KINDS["flow"].lookup["gal/min"]))
@example(value=5e-324, unit=(KINDS["flow"], KINDS["flow"].lookup["gal/min"]))
def test_a_number_is_read_as_it_was_written(value: float, unit: Any) -> None:
    kind, wanted = unit
    for text in (f"{value!r} {wanted.symbol}", f" {value!r}  {wanted.symbol} "):
        got, found = read(text, kind, None)
        assert (got, math.copysign(1.0, got), found) == (value, math.copysign(1.0, value), wanted)
    assert read({"value": value, "unit": wanted.symbol}, kind, None) == (value, wanted)
    assert read(Quantity(value, wanted.symbol), kind, None) == (value, wanted)


@given(si=st.floats(1e-12, 1e12), sign=st.sampled_from([1.0, -1.0]), unit=UNIT)
def test_what_is_written_in_a_unit_is_read_back(si: float, sign: float, unit: Any) -> None:
    kind, chosen = unit
    written = chosen.from_si(sign * si)
    # Three roundings; beside an offset, of the size of the offset.
    allowed = 4 * math.ulp(abs(si) + abs(chosen.offset * chosen.factor))
    assert in_si(f"{written!r} {chosen.symbol}", kind) == pytest.approx(sign * si, rel=0, abs=allowed)


@given(values=st.lists(st.floats(-1e9, 1e9), min_size=1, max_size=5), unit=UNIT)
def test_arrays_convert_bit_for_bit_as_floats(values: list[float], unit: Any) -> None:
    chosen = unit[1]
    column = np.array(values)
    assert chosen.to_si(column).tolist() == [chosen.to_si(value) for value in values]
    assert chosen.from_si(column).tolist() == [chosen.from_si(value) for value in values]


PINT_UNITS = [row for row in UNITS if row["dimension"] != "hardness"]


@pytest.mark.parametrize("row", PINT_UNITS, ids=lambda row: f"{row['dimension']}-{row['symbol']}")
def test_a_pint_quantity_is_the_same_as_a_text(row: dict[str, str]) -> None:
    kind = BY_DIMENSION[row["dimension"]]
    given_by_pint = (
        REGISTRY.Quantity(12.5, row["pint"])
        if row["dimension"] == "temperature"
        else 12.5 * REGISTRY.parse_expression(row["pint"])
    )
    assert in_si(given_by_pint, kind) == pytest.approx(in_si(f"12.5 {row['symbol']}", kind), rel=1e-14)


def test_a_hardness_from_pint_keeps_its_amount() -> None:
    # 1 grain per US gallon is 17.11806 mg/L: NIST SP 811 (2008), appendix B.8, from memory.
    assert in_si(1 * REGISTRY.grain / REGISTRY.gallon, KINDS["hardness"]) == pytest.approx(17.11806, abs=5e-6)


def test_a_pint_quantity_of_another_dimension_is_refused() -> None:
    assert refused(9 * REGISTRY.gallon).code == "unit_wrong_dimension"
    with pytest.raises(Unreadable) as caught:
        from_pint(9 * REGISTRY.ampere)
    assert caught.value.code == "unit_wrong_dimension"
    assert "[current]" in caught.value.message


def test_a_column_of_numbers_passes_through_with_its_unit() -> None:
    column = np.array([1.0, 2.0])
    value, unit = read(Quantity(column, "gal/min"), KINDS["flow"], None)
    assert value is column
    assert unit.symbol == "gal/min"


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused_briefly(text: str) -> None:
    told = ""
    try:
        value, _ = read(text, KINDS["flow"], None)
    except Unreadable as fault:
        told, value = fault.message, 0.0
    assert len(told) < 500
    assert math.isfinite(value)
