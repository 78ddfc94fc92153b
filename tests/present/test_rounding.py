"""Rounding for people: few figures, readable times, and never to the side that looks safer; JSON keeps every digit."""

import json
import re
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.engine.directions import safer_of
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.engine.writing import answer_fields
from dosewright.present.answer_tables import view_of
from dosewright.present.rounding import TABLE_DIGITS, Side, in_readable_units, measured, number, sides_of
from dosewright.topics.plan.page import plan_page

POSITIVE = st.floats(1e-6, 1e8)


@given(value=POSITIVE, limit=POSITIVE, digits=st.integers(3, 4))
def test_a_rounded_value_never_crosses_its_limit_to_the_safe_side(value: float, limit: float, digits: int) -> None:
    most, least = (float(number(value, side, digits).replace(",", "")) for side in ("up", "down"))
    spare = 1e-8 * limit
    assert not (value > limit + spare and most <= limit)  # over an upper limit stays over it
    assert not (value < limit - spare and least >= limit)  # short of a lower limit stays short of it
    assert most == pytest.approx(value, rel=10.0 ** (1 - digits))
    assert least == pytest.approx(value, rel=10.0 ** (1 - digits))


@pytest.mark.parametrize(
    ("value", "side", "shown"),
    [(15.0004, "up", "15.01"), (39.9996, "down", "39.99"), (20.000000000000004, "up", "20"), (71.964, None, "71.96")],
)
def test_a_value_close_to_a_limit_is_rounded_away_from_the_safe_look(value: float, side: Side, shown: str) -> None:
    assert number(value, side, TABLE_DIGITS) == shown


@pytest.mark.parametrize(
    ("value", "unit", "read_as"),
    [
        (180_000.0, "min", (125.0, "d")),  # a year and more of a lamp is no matter of minutes
        (1440.0, "min", (24.0, "h")),
        (60.0, "min", (60.0, "min")),
        (0.5, "h", (0.5, "h")),
        (30.0, "L/min", (30.0, "L/min")),
    ],
)
def test_times_are_read_in_hours_or_days(value: float, unit: str, read_as: tuple[float, str]) -> None:
    assert in_readable_units(value, unit) == read_as


@pytest.mark.parametrize("path", list(calculations()))
def test_no_table_shows_a_number_safer_than_it_is(path: str) -> None:
    answer: Any = run(path, calculations()[path].example)
    shown = {row[0]: row for row in next(iter(view_of(answer).tables)).rows}
    plain = json.loads(msgspec.json.encode(answer))
    directed = 0
    for name, safe in safer_of(type(answer)).items():
        if safe not in {"higher", "lower"} or not isinstance(plain.get(name), float):
            continue
        _, text, unit, _ = shown[name]
        kind = next(field.kind for field in answer_fields(type(answer)) if field.name == name)
        seen = float(text.replace(",", ""))
        if kind is not None and unit != answer.units.get(name, ""):
            seen = float(kind.lookup[answer.units[name]].from_si(kind.lookup[unit].to_si(seen)))
        spare = 1e-8 * abs(plain[name])
        assert seen <= plain[name] + spare if safe == "higher" else seen >= plain[name] - spare, name
        assert seen == pytest.approx(plain[name], rel=2e-3)
        directed += 1
    assert directed == sum(isinstance(plain.get(name), float) for name in sides_of(type(answer)))


def test_tables_have_four_figures_and_json_has_all() -> None:
    answer: Any = run("pipe/velocity", calculations()["pipe/velocity"].example)
    text = str(answer)
    for row in next(iter(view_of(answer).tables)).rows:
        digits = re.sub(r"[.,]|e.*", "", row[1]).lstrip("-0")
        assert not digits.isdigit() or len(digits) <= TABLE_DIGITS or float(row[1].replace(",", "")) >= 1e4, row
    assert repr(answer.velocity) not in text
    assert json.loads(msgspec.json.encode(answer))["velocity"] == answer.velocity
    assert repr(answer.velocity) in answer.to_csv()


def test_a_turning_point_on_the_page_is_not_further_than_it_is() -> None:
    example = dict(calculations()["site/plan"].example)
    answer: Any = run("site/plan", {**example, "sensitivity": True})
    turn = next(
        turn for turn in answer.sensitivity if turn.input == "peak_flow" and turn.verdict_beyond == "not_suitable"
    )
    at, _, unit = turn.threshold.partition(" ")
    side: Side = "down" if float(at) > float(turn.now.partition(" ")[0]) else "up"
    rows = [row for block in plan_page(answer).blocks for row in getattr(block, "rows", ())]
    shown = [row for row in rows if row[0] == "Peak flow" and len(row) == 4]
    assert [row[2] for row in shown] == [measured(float(at), unit, side, 4)]
