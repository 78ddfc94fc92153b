"""How a shock chlorination goes: stages, steps, samples and what is let go."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assertions import codes
from dosewright.engine.run import run
from dosewright.tables import table
from dosewright.tables.chlorination import chlorine_limit

WELL = {"kind": "drilled_casing", "diameter": "150 mm", "water_column": "40 m"}
HEATER = {"kind": "water_heater", "volume": "190 L"}
WHOLE = {
    "vessels": [WELL, {"kind": "pressure_tank", "volume": "100 L", "fill": "40 %"}, HEATER],
    "product": {"kind": "liquid", "sodium_hypochlorite": "6 %", "density": "1.08 kg/L"},
    "free_chlorine": "100 mg/L",
    "ph": "7.3",
    "residual": "60 mg/L",
}


def ask(**changes):
    return run("chlorine/shock", {**WHOLE, **changes})


def steps(given_):
    return [step.step for step in given_.steps]


@settings(max_examples=40)
@given(st.floats(1.0, 200.0), st.floats(10.0, 2000.0), st.floats(50.0, 400.0))
def test_the_stages_add_up_to_the_total(column, litres, dose):
    given_ = ask(
        vessels=[{**WELL, "water_column": f"{column!r} m"}, {"kind": "plain_volume", "volume": f"{litres!r} L"}],
        free_chlorine=f"{dose!r} mg/L",
        residual=f"{0.5 * dose!r} mg/L",
    )
    well, plumbing = given_.stages
    assert (well.stage, plumbing.stage) == ("well", "plumbing")
    assert well.volume + plumbing.volume == pytest.approx(given_.volume, rel=1e-12)
    assert well.product_volume + plumbing.product_volume == pytest.approx(given_.product_volume, rel=1e-12)
    assert well.product_mass + plumbing.product_mass == pytest.approx(given_.product_mass, rel=1e-12)
    # Both stages in the well, before the house draws.
    assert given_.peak_concentration == pytest.approx(given_.dose * given_.volume / well.volume, rel=1e-12)


def test_a_well_alone_and_plumbing_alone_take_one_stage():
    assert [stage.stage for stage in ask(vessels=[WELL]).stages] == ["well"]
    house = ask(vessels=[HEATER])
    assert [stage.stage for stage in house.stages] == ["plumbing"]
    assert house.peak_concentration is None
    assert "pour_vessels" in steps(house)
    assert "pour_well" not in steps(house)


def test_granules_are_staged_by_mass():
    given_ = ask(product={"kind": "granules", "available_chlorine": "65 %"})
    well = given_.stages[0]
    assert well.product_volume is None
    assert well.product_mass == pytest.approx(well.volume * 100 / 650, rel=1e-12)
    assert well.customary.endswith(("ounces", "ounce", "pounds", "pound"))


def test_plumbing_larger_than_the_well_gives_a_warning():
    assert "well_overdosed" not in codes(ask())
    small = [{**WELL, "water_column": "2 m"}, {"kind": "plain_volume", "volume": "300 L"}]
    assert "well_overdosed" in codes(ask(vessels=small))


def test_steps_depend_on_the_vessels():
    assert steps(ask()) == [
        "prepare", "cool_heater", "drain_tank", "slurry_well", "pour_well", "circulate", "slurry_plumbing", "draw",
        "hold", "neutralise", "flush", "sample",
    ]  # fmt: skip
    assert "dead_legs" in steps(ask(vessels=[WELL, {"kind": "dead_leg", "bore": "13 mm", "length": "2 m"}]))
    assert "draw" not in steps(ask(vessels=[WELL]))
    order = [row["step"] for row in table("chlorination_steps").rows]
    for vessels in ([WELL], [HEATER], [WELL, HEATER]):
        here = steps(ask(vessels=vessels))
        assert here == [step for step in order if step in here]


def test_steps_have_their_amounts():
    given_ = ask(answer_units={"steps.volume": "L", "steps.duration": "h"})
    by_name = {step.step: step for step in given_.steps}
    assert by_name["slurry_well"].volume == pytest.approx(37.854, abs=1e-3)
    assert by_name["circulate"].duration == 1
    assert by_name["hold"].duration == 24
    assert by_name["neutralise"].volume == given_.volume
    assert by_name["flush"].volume == given_.flush_volume
    assert by_name["sample"].duration == 168
    assert ask(rule="none").steps[-4].duration == 24 * 60  # no rule: the longest hold of one that was read


def test_samples_afterwards():
    retest = ask(
        answer_units={f"retest.{name}": "d" for name in ("first_sample_after", "sample_interval", "earliest_clear")}
    ).retest
    assert (retest.first_sample_after, retest.sample_interval, retest.clear_samples) == (7, 1, 2)
    assert retest.earliest_clear == 8


def test_discharge_by_hand():
    given_ = ask()
    assert given_.discharge.volume == pytest.approx(given_.volume + given_.flush_volume, rel=1e-12)
    assert given_.discharge.chlorine_mass == pytest.approx(given_.volume * 0.060, rel=1e-12)
    assert given_.discharge.dilution == pytest.approx(60 / 0.019, rel=1e-9)
    assert {"stream or lake", "storm drain", "septic system"} <= {place.place for place in given_.no_discharge_places}
    assert chlorine_limit("dilution_water")[0] == pytest.approx(10 * 231 * 0.0254**3, rel=1e-12)
