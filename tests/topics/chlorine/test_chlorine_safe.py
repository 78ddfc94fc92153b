"""Results that look safe and are not, in the chlorine calculations."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from assertions import codes, faults
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import run

SHOCK: dict[str, Any] = {
    "vessels": [{"kind": "plain_volume", "volume": "100 gal"}],
    "product": {"kind": "listed", "name": "household_bleach_6"},
    "chlorine_demand": "1 mg/L",
}


@pytest.mark.parametrize(("temperature", "hours"), [("4 degC", 48), ("6 degC", 24)])
def test_cold_mains_hold_longer(temperature: str, hours: int) -> None:
    given = run("chlorine/shock", {**SHOCK, "rule": "awwa_c651_tablet", "water_temperature": temperature})
    assert given.hold_time == 60 * hours
    assert ("cold_water_hold_longer" in codes(given)) is (hours == 48)


@pytest.mark.parametrize(
    ("rule", "warm"),
    [("awwa_c651_continuous_feed", 24), ("awwa_c651_slug", 3), ("awwa_c651_tablet", 24), ("awwa_c651_tablet_cold", 48)],
)
def test_every_rule_for_mains_holds_48_h_below_5_degc(rule: str, warm: int) -> None:
    cold = run("chlorine/shock", {**SHOCK, "rule": rule, "water_temperature": "4.9 degC"})
    assert cold.hold_time == 60 * 48
    assert run("chlorine/shock", {**SHOCK, "rule": rule, "water_temperature": "5 degC"}).hold_time == 60 * warm
    # The longer hold is pointed out only where it differs from the rule's own.
    assert ("cold_water_hold_longer" in codes(cold)) is (warm < 48)
    own = {"rule": rule, "water_temperature": "4.9 degC", "hold_time": "24 h"}
    assert "hold_time_below_rule" in codes(run("chlorine/shock", {**SHOCK, **own}))


def test_a_rule_for_wells_keeps_its_hold_time_in_cold_water() -> None:
    given = run("chlorine/shock", {**SHOCK, "rule": "ontario_903", "water_temperature": "2 degC"})
    assert given.hold_time == 60 * 12
    assert "cold_water_hold_longer" not in codes(given)


@pytest.mark.parametrize(("chlorine", "hours"), [("50 mg/L", 24), ("200 mg/L", 3)])
def test_house_plumbing_has_rules_of_its_own(chlorine: str, hours: int) -> None:
    for rule in ("plumbing_code_610_1", "state_plumbing_code_10_9_2"):
        given = run("chlorine/shock", {**SHOCK, "rule": rule, "free_chlorine": chlorine})
        assert given.hold_time == 60 * hours
    # The residual at every outlet is asked for.
    assert "end_concentration_unmeasured" in codes(given)


def test_the_feed_includes_the_demand_of_the_water() -> None:
    plain = dict(find("chlorine/feed").example)
    metals = {"iron": "2 mg/L", "manganese": "0.5 mg/L", "sulfide": "0.4 mg/L", "ammonia": "0.2 mg/L"}
    given = run("chlorine/feed", {**plain, **metals})
    more = 0.635 * 2.0 + 1.291 * 0.5 + 8.32 * 0.4 + 10.0 * 0.2  # by stoichiometry and breakpoint, as in chlorine/shock
    assert given.dose == pytest.approx(run("chlorine/feed", plain).dose + more, rel=2e-3)


@pytest.mark.parametrize("path", ["chlorine/shock", "chlorine/feed"])
def test_an_unmeasured_organic_demand_gives_a_warning(path: str) -> None:
    request = {**(SHOCK if path == "chlorine/shock" else dict(find(path).example)), "chlorine_demand": "0 mg/L"}
    assert "organic_demand_not_measured" in codes(run(path, {**request, "iron": "1 mg/L"}))
    assert "demand_not_included" in codes(run(path, request))
    assert "organic_demand_not_measured" not in codes(run(path, {**request, "chlorine_demand": "1 mg/L"}))


@pytest.mark.parametrize("metal", ["iron", "manganese", "sulfide", "ammonia"])
def test_no_missing_demand_warning_when_a_demand_is_included(metal: str) -> None:
    plain = {**dict(find("chlorine/feed").example), "chlorine_demand": "0 mg/L"}
    counted = run("chlorine/feed", {**plain, metal: "1 mg/L"})
    assert "demand_not_included" not in codes(counted)
    assert not [one for one in counted.warnings if one.message.startswith("No chlorine demand is counted")]
    assert len([one for one in run("chlorine/feed", plain).warnings if one.code == "demand_not_included"]) == 1
    # What the metal takes up is something to feed, though no free chlorine is aimed at.
    only = run("chlorine/feed", {**plain, "free_chlorine": "0 mg/L", metal: "1 mg/L"})
    assert only.dose > 0.6


ACID: dict[str, Any] = {**SHOCK, "free_chlorine": "100 mg/L", "raw_ph": "7.2", "alkalinity": "200 mg/L"}


def test_the_ph_is_reported_before_and_after_the_hypochlorite_and_the_vinegar() -> None:
    given = run("chlorine/shock", {**ACID, "ph_target": "7"})
    assert given.ph_before == 7.2
    # Vinegar lowers it, hypochlorite raises it: the target lies between.
    assert 5.0 < given.ph_after_vinegar < given.ph_after_both < given.chlorinated_ph
    assert given.ph_after_both == pytest.approx(7.0)
    plain = run("chlorine/shock", ACID)
    assert plain.ph_after_vinegar is None
    assert plain.chlorinated_ph == given.chlorinated_ph


def test_the_vinegar_step_has_an_amount_or_adds_none() -> None:
    for target in ("7", "9"):
        given = run("chlorine/shock", {**ACID, "ph_target": target})
        (step,) = [step for step in given.steps if step.step == "vinegar"]
        assert step.volume == given.vinegar_volume
        assert (step.volume > 0.0) is (target == "7")
        assert step.action.startswith("Add no vinegar") is (target == "9")
    assert given.ph_after_both == given.chlorinated_ph < 9.0


@pytest.mark.parametrize(
    ("changes", "pointer", "allowed"),
    [
        ({"water_temperature": "3 degC"}, "/water_temperature", "5 to 35 degC"),
        ({"water_temperature": "36 degC"}, "/water_temperature", "5 to 35 degC"),
        ({"alkalinity": "20 mg/L"}, "/ph_target", "a target that leaves at least pH 5 before the chlorine"),
    ],
)
def test_a_target_outside_the_constants_is_rejected(changes: dict[str, str], pointer: str, allowed: str) -> None:
    with pytest.raises(RequestRefused) as refusal:
        run("chlorine/shock", {**ACID, "ph_target": "6.5", **changes})
    assert [(fault.pointer, fault.code, fault.allowed) for fault in refusal.value.faults] == [
        (pointer, "outside_method", allowed)
    ]


@pytest.mark.parametrize("strength", ["0.5 %", "5 %", "10 %", "12.5 %"])
@pytest.mark.parametrize("temperature", ["5 degC", "25 degC", "38 degC"])
def test_storage_shows_both_laws_and_uses_the_weaker_result(strength: str, temperature: str) -> None:
    kept = {"storage_time": "180 d", "storage_temperature": temperature}
    product = {"kind": "liquid", "trade_strength": strength}
    given = run("chlorine/product", {"product": product, **kept}).stored
    assert given.remaining_strength == min(given.law_remaining_strength, given.table_remaining_strength)
    assert given.law_remaining_strength != given.table_remaining_strength
    assert given.trade_strength == pytest.approx(
        float(strength.split(maxsplit=1)[0]) * given.remaining_strength / 100.0
    )
    shock = run("chlorine/shock", {**SHOCK, "product": product, **kept})
    both = (shock.remaining_strength, shock.law_remaining_strength, shock.table_remaining_strength)
    assert both == (given.remaining_strength, given.law_remaining_strength, given.table_remaining_strength)
    # The amount follows from the weaker strength.
    fresh = run("chlorine/shock", {**SHOCK, "product": product})
    assert shock.product_volume == pytest.approx(fresh.product_volume * 100.0 / given.remaining_strength)


TABLETS: dict[str, Any] = {"kind": "tablets", "tablet_mass": "7 g", "available_chlorine": "65 %"}


def test_tablets_are_counted_by_their_mass_and_strength() -> None:
    given = run("chlorine/shock", {**SHOCK, "product": TABLETS, "free_chlorine": "100 mg/L", "units": "metric"})
    # 101 mg/L in 378.54 L is 38.23 g of chlorine: 58.82 g of product, 8.4 tablets.
    assert given.product_mass == pytest.approx(378.5411784 * 0.101 / 0.65, rel=1e-9)
    counted = next(amount for amount in given.measures if amount.system == "tablets")
    assert counted.measure == "9 tablets"
    assert counted.product_mass == pytest.approx(63.0)
    assert counted.dose == pytest.approx(63.0 * 0.65 / 0.3785411784, rel=1e-9)
    assert [stage.metric for stage in given.stages] == ["9 tablets"]
    assert "tablets_dissolve_slowly" in codes(given)
    assert "chlorine_cyanurates" in {caution.code for caution in given.cautions}
    # The mass is that of granules of the same strength.
    granules = {"kind": "granules", "available_chlorine": "65 %"}
    alike = run("chlorine/shock", {**SHOCK, "product": granules, "free_chlorine": "100 mg/L", "units": "metric"})
    assert (alike.product_mass, len(alike.measures)) == (given.product_mass, 2)


def test_one_tablet_is_the_minimum_in_every_row_of_a_batch() -> None:
    vessel = {"kind": "plain_volume", "volume": {"value": np.array([1.0, 40.0, 378.5411784]), "unit": "L"}}
    asked = {**SHOCK, "vessels": [vessel], "product": TABLETS, "free_chlorine": "100 mg/L"}
    together = run_batch("chlorine/shock", asked)
    assert list(together["measures.2.measure"]) == ["1 tablet", "1 tablet", "9 tablets"]


@pytest.mark.parametrize(
    ("path", "more", "fault"),
    [
        ("chlorine/product", {"product": {"kind": "tablets", "tablet_mass": "7 g"}},
         ("/product/available_chlorine", "required")),
        ("chlorine/product", {"product": {"kind": "tablets", "available_chlorine": "65 %"}},
         ("/product/tablet_mass", "required")),
        ("chlorine/product", {"product": TABLETS, "storage_time": "9 d", "storage_temperature": "20 degC"},
         ("/storage_time", "not_for_granules")),
        ("chlorine/feed", {"flow": "30 L/min", "free_chlorine": "1 mg/L", "product": TABLETS},
         ("/solution_strength", "required")),
    ],
)  # fmt: skip
def test_tablets_without_mass_or_strength_are_rejected(path: str, more: dict[str, Any], fault: tuple[str, str]) -> None:
    assert faults(path, more) == {fault}
