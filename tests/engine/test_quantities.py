"""Reading and writing quantities: hostile texts, profiles, what mends a fault, round trips."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import example, given

from dosewright.quantities import KINDS, PROFILES, Kind, Quantity, Unreadable, from_pint, read, shortened
from unit_rows import BY_DIMENSION, KIND, REGISTRY, UNITS, in_si

if TYPE_CHECKING:
    pass


def refused(value: object, kind: Kind = KINDS["flow"], profile: Any = None) -> Unreadable:
    with pytest.raises(Unreadable) as caught:
        read(value, kind, profile)
    assert 0 < len(caught.value.message) < 500
    return caught.value


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
    assert "'gal' is a unit of volume, but flow is required" in message


def test_what_is_repeated_of_a_callers_text_is_short() -> None:
    assert shortened("x" * 100_000) == f"{'x' * 40}… (100000 characters)"
    assert len(shortened(10**4000)) < 100
    assert len(shortened([1] * 1000)) < 100
    assert len(shortened(10**10_000)) < 100
    assert len(shortened({"value": "9" * 100_000, "unit": "m" * 100_000})) < 100


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
