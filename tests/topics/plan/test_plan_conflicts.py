"""Values of a plan that conflict, or are below what the job needs, keep it from being called suitable."""

from typing import Any

import pytest

from dosewright.engine.run import run
from sites import site


def changed(**changes: Any) -> Any:
    """Return the plan of the invented cottage with fields changed, written section__field."""
    request = site("cottage")
    for name, value in changes.items():
        place: Any = request
        *way, last = name.split("__")
        for step in way:
            place = place[int(step)] if step.isdigit() else place[step]
        if value is None:
            del place[last]
        else:
            place[last] = value
    return run("site/plan", request)


def reasons(plan: Any) -> dict[str, str]:
    return {reason.code: reason.severity for reason in plan.reasons}


LOW_DOSE = dict.fromkeys(("equipment__0__target_dose", "equipment__1__target_dose"), "16 mJ/cm2")
SHOWERS = {"fixtures": [{"fixture": "shower", "count": "4"}, {"fixture": "bathtub"}]}


@pytest.mark.parametrize(
    ("changes", "code", "severity"),
    [
        ({"chlorination__hold_time": "1 min"}, "hold_time_below_rule", "fix_first"),
        ({"chlorination__rule": None, "chlorination__free_chlorine": "20 mg/L"}, "below_strictest_rule", "fix_first"),
        ({"demand": SHOWERS}, "peak_flow_below_demand", "fix_first"),
        (
            {"equipment__1__target_dose": "16 mJ/cm2", "equipment__0__target_dose": "16 mJ/cm2"},
            "target_dose_low",
            "fix_first",
        ),
        ({"demand": SHOWERS | {"pump_flow": "3 gal/min", "tank_draw_down": "1 gal"}}, "supply_below_peak", "check"),
    ],
)
def test_a_conflict_is_a_reason(changes: dict[str, Any], code: str, severity: str) -> None:
    plan = changed(**changes)
    assert reasons(plan).get(code) == severity
    assert (plan.verdict == "suitable") is False or severity == "check"


def test_a_peak_flow_above_the_demand_is_no_conflict() -> None:
    assert "peak_flow_below_demand" not in reasons(changed(demand=SHOWERS, peak_flow="30 gal/min"))


def test_only_the_well_to_chlorinate_is_pointed_out() -> None:
    well = [{"kind": "drilled_casing", "diameter": "6 in", "water_column": "127 ft"}]
    plan = changed(chlorination__vessels=well)
    assert reasons(plan)["plumbing_not_entered"] == "check"
    assert "plumbing_not_entered" not in reasons(changed())


def test_metals_and_sulfide_of_the_water_test_use_up_chlorine() -> None:
    metals = {"water_test__iron": "8 mg/L", "water_test__hydrogen_sulfide": "2 mg/L"}
    plan = changed(chlorination__chlorine_demand=None, **metals)
    assert plan.chlorination.chlorine_demand > 15.0
    assert plan.chlorination.inputs["iron"] == plan.water_test.inputs["iron"]
    # A measured demand includes them already.
    assert changed(**metals).chlorination.chlorine_demand == 1.5


def test_the_upkeep_ends_a_lamp_where_the_unit_was_sized_for_it() -> None:
    plan = changed(equipment__1__lamp_ageing_factor="60 %", equipment__0__lamp_ageing_factor="60 %")
    assert plan.upkeep.inputs["lamp_end_factor"] == 0.6
    assert changed().upkeep.inputs["lamp_end_factor"] == 0.8


@pytest.mark.parametrize(
    ("units", "written"), [("metric", "its surface is at 8 °C"), ("us", "its surface is at 46.4 °F")]
)
def test_temperatures_of_a_reason_are_in_the_units_of_the_answer(units: str, written: str) -> None:
    plan = changed(condensation__relative_humidity="95 %", units=units)
    (message,) = [reason.message for reason in plan.reasons if reason.code == "surface_sweats"]
    assert written in message


def test_water_with_bacteria_and_nitrate_is_not_to_be_boiled() -> None:
    """Boiling concentrates nitrate, so the two cautions would contradict each other."""
    codes = {caution.code for caution in changed(water_test__nitrate_nitrogen="40 mg/L").cautions}
    assert {"other_water_until_safe", "nitrate_infants"} <= codes
    assert "boil_until_safe" not in codes
    assert "boil_until_safe" in {caution.code for caution in changed().cautions}
