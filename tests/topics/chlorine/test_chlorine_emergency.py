"""Emergency disinfection: bleach for a litre, a gallon or a bucket."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assertions import codes, faults
from dosewright.core.chlorine.emergency import drops_per_volume
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.run import run
from dosewright.tables.emergency import emergency_doses, emergency_rule

WATER: dict[str, Any] = {
    "volume": "1 gal",
    "bleach_strength": "6 %",
    "clarity": "clear",
    "water_temperature": "18 degC",
    "altitude": "100 m",
}


def ask(**changes: Any) -> Any:
    return run("chlorine/emergency", {key: value for key, value in {**WATER, **changes}.items() if value is not None})


def test_a_gallon_a_quart_a_litre_and_a_bucket():
    assert [ask(volume=volume).drops for volume in ("1 gal", "1 qt", "1 L", "5 gal")] == [8, 2, 3, 40]
    assert [ask(volume=volume).quarter_teaspoons for volume in ("1 gal", "5 gal", "10 gal")] == [None, 2, 4]
    assert ask().bleach_volume == pytest.approx(8 * 0.05)
    assert ask().drop_volume == pytest.approx(0.05)
    # 0.4 mL of 6 % bleach (61.7 g/L) in 3.785 L.
    assert ask().dose == pytest.approx(0.4 * 61.7 / 3.785, rel=2e-3)


@pytest.mark.parametrize(
    "poor",
    [
        {"clarity": "cloudy"},
        {"water_temperature": "9.9 degC"},
        {"clarity": "cloudy", "water_temperature": "1 degC"},
        {"water_temperature": None},
    ],
)
def test_cloudy_very_cold_or_unknown_water_needs_twice_the_bleach_and_the_longer_wait(poor: dict[str, Any]):
    answer = ask(**poor)
    assert (answer.drops, answer.wait_time) == (16, 60)
    assert (ask().drops, ask().wait_time) == (8, 30)
    assert ("temperature_not_given" in codes(answer)) is (poor == {"water_temperature": None})


@pytest.mark.parametrize(("altitude", "minutes"), [("0 m", 1), ("1000 m", 1), ("1001 m", 3), ("6500 ft", 3), (None, 3)])
def test_boiling_is_longer_at_high_or_unknown_altitude(altitude: str | None, minutes: int):
    answer = ask(altitude=altitude)
    assert answer.boil_time == minutes
    assert ("altitude_not_given" in codes(answer)) is (altitude is None)


def test_boiling_comes_first_and_the_limits_of_bleach_are_listed():
    answer = ask()
    assert answer.steps[0].step == "boil"
    assert {step.step: step.duration for step in answer.steps if step.duration} == {"boil": 1, "wait": 30, "smell": 15}
    assert {limit.hazard for limit in answer.not_removed} == {"chemicals", "cryptosporidium", "parasites"}
    assert {"boil_if_possible", "strength_decreases", "above_drinking_limit"} <= codes(answer)
    assert {"emergency_water", "chlorine_mixing"} <= {caution.code for caution in answer.cautions}


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"bleach_strength": "0.9 %"}, ("/bleach_strength", "outside_method")),
        ({"bleach_strength": "12.5 %"}, ("/bleach_strength", "outside_method")),
        ({"bleach_strength": "40 %"}, ("/bleach_strength", "out_of_range")),
        ({"chemicals_suspected": True}, ("/chemicals_suspected", "not_applicable")),
        ({"volume": "500 L"}, ("/volume", "out_of_range")),
        ({"clarity": None}, ("/clarity", "required")),
        ({"bleach_strength": None}, ("/bleach_strength", "required")),
    ],
)
def test_values_outside_the_leaflets_are_rejected(changes: dict[str, Any], fault: tuple[str, str]):
    asked = {key: value for key, value in {**WATER, **changes}.items() if value is not None}
    assert faults("chlorine/emergency", asked) == {fault}


@given(st.floats(1.0, 9.0), st.floats(0.2, 200.0))
def test_no_strength_gets_less_chlorine_than_the_weakest_published_amount(strength: float, litres: float):
    answer = ask(volume=f"{litres!r} L", bleach_strength=f"{strength!r} %")
    # 40 drops of 1 % bleach in a gallon add 5.09 mg/L.
    assert answer.dose >= 5.08
    # Whole drops are at most one too many.
    one_drop = 0.05 * answer.dose / answer.bleach_volume
    assert answer.dose - one_drop <= 8.0


def test_every_published_amount_is_reproduced():
    strengths, drops = emergency_doses()
    assert drops_per_volume(strengths, strengths, drops) == pytest.approx(drops, rel=1e-12)
    assert drops_per_volume(0.09, strengths, drops) == pytest.approx(6.0)
    with pytest.raises(ValueError, match="below the table"):
        drops_per_volume(0.005, strengths, drops)
    with pytest.raises(ValueError, match="strengths must rise"):
        drops_per_volume(0.05, strengths, drops[::-1])
    with pytest.raises(LookupError):
        emergency_rule("nothing")


def test_a_batch_gives_what_single_requests_give():
    volumes = [0.5, 1.0, 3.8, 19.0, 60.0]
    strengths = [1.0, 3.0, 5.25, 6.0, 8.25]
    temperatures = [2.0, 9.0, 10.0, 18.0, 25.0]
    together = run_batch(
        "chlorine/emergency",
        {
            "volume": {"value": np.array(volumes), "unit": "L"},
            "bleach_strength": {"value": np.array(strengths), "unit": "%"},
            "clarity": "clear",
            "water_temperature": {"value": np.array(temperatures), "unit": "degC"},
            "altitude": {"value": np.array([0.0, 500.0, 1000.0, 2000.0, 3000.0]), "unit": "m"},
        },
    )
    assert together.errors == []
    for row, altitude in enumerate((0, 500, 1000, 2000, 3000)):
        alone = ask(
            volume=f"{volumes[row]} L",
            bleach_strength=f"{strengths[row]} %",
            water_temperature=f"{temperatures[row]} degC",
            altitude=f"{altitude} m",
        )
        for name in ("drops", "bleach_volume", "dose", "wait_time", "boil_time"):
            assert together[name][row] == getattr(alone, name), name
        spoons = together["quarter_teaspoons"][row]
        assert np.isnan(spoons) if alone.quarter_teaspoons is None else spoons == alone.quarter_teaspoons


@pytest.mark.parametrize(("litres", "drops"), [("1 L", 33), ("3 L", 98), ("4 L", None), ("400 L", None)])
def test_small_amounts_of_a_batch_are_in_drops_and_quarter_teaspoons(litres: str, drops: int | None):
    # 100 mg/L from 61.7 g/L takes 1.62 mL a litre.
    answer = run(
        "chlorine/shock",
        {
            "vessels": [{"kind": "plain_volume", "volume": litres}],
            "product": {"kind": "listed", "name": "household_bleach_6"},
            "rule": "none",
            "free_chlorine": "100 mg/L",
            "hold_time": "24 h",
        },
    )
    assert answer.product_drops == drops
    kitchen = next(amount.measure for amount in answer.measures if amount.system == "us_kitchen")
    assert "teaspoon" in kitchen or drops is None
