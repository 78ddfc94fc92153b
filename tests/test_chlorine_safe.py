"""What looks safe and is not, in the chlorine calculations."""

from __future__ import annotations

from typing import Any

import pytest

from dosewright.engine.registry import find
from dosewright.engine.run import run
from said import codes

BATCH: dict[str, Any] = {
    "vessels": [{"kind": "plain_volume", "volume": "100 gal"}],
    "product": {"kind": "listed", "name": "household_bleach_6"},
    "chlorine_demand": "1 mg/L",
}


@pytest.mark.parametrize(("temperature", "hours"), [("4 degC", 48), ("6 degC", 24)])
def test_cold_mains_hold_longer(temperature: str, hours: int) -> None:
    given = run("chlorine/batch", {**BATCH, "rule": "awwa_c651_tablet", "water_temperature": temperature})
    assert given.hold_time == 60 * hours
    assert ("cold_water_holds_longer" in codes(given)) is (hours == 48)


@pytest.mark.parametrize(("chlorine", "hours"), [("50 mg/L", 24), ("200 mg/L", 3)])
def test_house_plumbing_has_rules_of_its_own(chlorine: str, hours: int) -> None:
    for rule in ("plumbing_code_610_1", "state_plumbing_code_10_9_2"):
        given = run("chlorine/batch", {**BATCH, "rule": rule, "free_chlorine": chlorine})
        assert given.hold_time == 60 * hours
    # The residual at every outlet is asked for.
    assert "end_concentration_unmeasured" in codes(given)


def test_the_feed_counts_what_is_in_the_water() -> None:
    plain = dict(find("chlorine/feed").example)
    metals = {"iron": "2 mg/L", "manganese": "0.5 mg/L", "sulfide": "0.4 mg/L", "ammonia": "0.2 mg/L"}
    given = run("chlorine/feed", {**plain, **metals})
    more = 0.635 * 2.0 + 1.291 * 0.5 + 8.32 * 0.4 + 10.0 * 0.2  # by stoichiometry and breakpoint, as in the batch
    assert given.dose == pytest.approx(run("chlorine/feed", plain).dose + more, rel=2e-3)


@pytest.mark.parametrize("path", ["chlorine/batch", "chlorine/feed"])
def test_an_organic_demand_that_was_not_measured_is_said_so(path: str) -> None:
    request = {**(BATCH if path == "chlorine/batch" else dict(find(path).example)), "chlorine_demand": "0 mg/L"}
    assert "organic_demand_not_measured" in codes(run(path, {**request, "iron": "1 mg/L"}))
    assert "demand_not_counted" in codes(run(path, request))
    assert "organic_demand_not_measured" not in codes(run(path, {**request, "chlorine_demand": "1 mg/L"}))
