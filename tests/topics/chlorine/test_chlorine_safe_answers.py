"""Chlorine that looks enough and is not: what the other tests of the topic do not hold already."""

from __future__ import annotations

from typing import Any

import pytest

from assertions import codes, faults
from dosewright.core.chlorine.contact_time import LAMINAR_T10
from dosewright.engine.registry import find
from dosewright.engine.run import run

BATCH: dict[str, Any] = {
    "vessels": [{"kind": "plain_volume", "volume": "100 gal"}],
    "product": {"kind": "listed", "name": "household_bleach_6"},
    "chlorine_demand": "1 mg/L",
    "rule": "ontario_903",
}
WATER = {"organism": "giardia", "log_inactivation": "1", "water_temperature": "10 degC", "ph": "7.4"}


@pytest.mark.parametrize(("flow", "regime"), [("5 L/min", "laminar"), ("17 L/min", "transition")])
@pytest.mark.parametrize("length", ["0.5 m", "5 m", "150 m"])
def test_short_pipes_and_transition_get_no_more_than_laminar_credit(flow: str, regime: str, length: str) -> None:
    pipe = {"kind": "pipe", "length": length, "bore": "0.1 m"}
    given = run("chlorine/contact-time", {**WATER, "residual": "0.8 mg/L", "segments": [pipe], "flow": flow})
    (segment,) = given.segments
    assert segment.contact_time == pytest.approx(LAMINAR_T10 * segment.residence_time, rel=1e-12)
    reynolds = run("pipe/velocity", {"bore": "100 mm", "flow": flow, "water_temperature": "10 degC"})
    assert reynolds.regime == regime


def test_a_residual_above_the_dose_is_refused() -> None:
    asked = {**BATCH, "free_chlorine": "50 mg/L"}
    assert faults("chlorine/shock", {**asked, "residual": "52 mg/L"}) == {("/residual", "contradiction")}
    assert run("chlorine/shock", {**asked, "residual": "51 mg/L"}).hold_time > 0.0


def test_a_flush_residual_above_the_drinking_limit_is_refused() -> None:
    above = faults("chlorine/shock", {**BATCH, "flush_residual": "4.1 mg/L"})
    assert above == {("/flush_residual", "above_drinking_limit")}
    assert run("chlorine/shock", {**BATCH, "flush_residual": "4 mg/L"}).flush_volume > 0.0


@pytest.mark.parametrize("rule", ["maryland_26_04_04_24", "none"])
def test_a_hold_without_a_time_is_never_counted_as_zero(rule: str) -> None:
    asked = {**BATCH, "rule": rule, "free_chlorine": "100 mg/L"}
    given = run("chlorine/shock", asked)
    assert given.hold_time == pytest.approx(24 * 60)
    assert "hold_time_assumed" in codes(given)
    assert [step.duration for step in given.steps if step.step == "hold"] == [given.hold_time]
    start = {**dict(find("site/commissioning").example), "units": "metric"}
    whole = run("site/commissioning", {**start, "chlorination": asked})
    longer = run("site/commissioning", {**start, "chlorination": {**asked, "hold_time": "48 h"}})
    (held,) = [step.duration for step in whole.steps if step.step == "hold"]
    assert held == pytest.approx(24 * 60)
    assert sum(step.duration or 0.0 for step in longer.steps) - sum(
        step.duration or 0.0 for step in whole.steps
    ) == pytest.approx(24 * 60)


def test_no_county_is_the_law_for_everyone() -> None:
    unnamed = {name: value for name, value in BATCH.items() if name != "rule"}
    given = run("chlorine/shock", {**unnamed, "all_rules": True})
    assert "no_local_rule" in codes(given)
    (counted,) = [rule for rule in given.rules if rule.decides]
    county = next(rule for rule in given.rules if rule.rule.startswith("san_bernardino"))
    assert counted.rule != county.rule
    assert given.free_chlorine > county.free_chlorine
    assert given.hold_time >= county.hold_time


@pytest.mark.parametrize(("log", "credited"), [("3", 3.0), ("2", 3.0)])
def test_a_capped_credit_stands_beside_the_computed_one(log: str, credited: float) -> None:
    pipe = {"kind": "pipe", "length": "3000 m", "bore": "0.1 m"}
    asked = {**WATER, "log_inactivation": log, "residual": "0.8 mg/L", "segments": [pipe], "flow": "60 L/min"}
    given = run("chlorine/contact-time", asked)
    assert given.log_inactivation_achieved > credited == given.log_inactivation_credited
