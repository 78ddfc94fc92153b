"""Where a unit has a lower bound, every section of the plan works with it."""

from __future__ import annotations

from typing import Any

import pytest

from dosewright.engine.run import run
from sites import site

RATED = ("rated_points",)
BY_OUTPUT = {"uvc_output": "17 W"}
NAMED = {"hydraulics": "tanks_in_series", "tanks": "3", "inactivation_rate": "0.12 cm2/mJ"}


def chambers(**hydraulics: str) -> dict[str, Any]:
    """The cottage with its units given by chamber and output, in place of rated points."""
    request = site("cottage")
    request["equipment"] = [
        {**{name: value for name, value in unit.items() if name not in RATED}, **BY_OUTPUT, **hydraulics}
        for unit in request["equipment"]
    ]
    return request


def chosen(answer: Any) -> Any:
    return next(choice for choice in answer.choices if choice.chosen)


def upkeep_codes(answer: Any) -> set[str]:
    return {warning.code for warning in answer.upkeep.warnings}


def test_upkeep_has_the_lower_bound_of_a_chamber_whose_hydraulics_are_not_named() -> None:
    answer = run("site/plan", {**chambers(), "peak_flow": "2 L/min"})
    unit = answer.equipment[chosen(answer).number]
    assert unit.flow_lower_bound < unit.derated_flow
    for event in answer.upkeep.events:
        at_unit = unit.flow_lower_bound * event.lamp_ageing_factor / (100.0 * unit.inputs["lamp_ageing_factor"])
        assert event.derated_flow == pytest.approx(at_unit, rel=1e-12)
    assert answer.upkeep.inputs["hydraulics_unknown"] is True


def test_no_event_says_that_a_peak_is_covered_which_the_unit_leaves_open() -> None:
    answer = run("site/plan", {**chambers(), "peak_flow": "2 L/min"})
    assert chosen(answer).covers_peak_flow is None
    assert {event.covers_peak_flow for event in answer.upkeep.events} == {None}
    assert "hydraulics_not_named" in upkeep_codes(answer)
    named = run("site/plan", {**chambers(**NAMED), "peak_flow": "2 L/min"})
    assert chosen(named).covers_peak_flow is True
    assert {event.covers_peak_flow for event in named.upkeep.events} == {True}
    assert "hydraulics_not_named" not in upkeep_codes(named)


def test_a_peak_between_the_bounds_is_a_reason_of_the_upkeep() -> None:
    bounds = chosen(run("site/plan", chambers()))
    between = 0.5 * (bounds.flow_lower_bound + bounds.derated_flow)
    request = {**chambers(), "peak_flow": f"{between!r} L/min"}
    answer = run("site/plan", request)
    assert chosen(answer).covers_peak_flow is None
    assert ("lamp_changed_too_late", "check") in {(reason.code, reason.severity) for reason in answer.reasons}
    assert {event.covers_peak_flow for event in answer.upkeep.events} == {False}
    assert answer.verdict == "incomplete"
    late = {**request["upkeep"], "lamp_end_factor": "30 %", "lamp_interval": "1000 d"}
    kept = run("site/plan", {**request, "upkeep": late})
    assert ("lamp_changed_too_late", "fix_first") in {(reason.code, reason.severity) for reason in kept.reasons}
    assert kept.verdict == "fix_first"


def test_a_flow_of_the_callers_own_stays_what_it_is() -> None:
    request = {**chambers(), "peak_flow": "2 L/min"}
    request["upkeep"] = {**request["upkeep"], "derated_flow": "9 L/min", "lamp_ageing_factor": "80 %"}
    answer = run("site/plan", request)
    assert answer.upkeep.inputs["hydraulics_unknown"] is False
    assert {event.covers_peak_flow for event in answer.upkeep.events} == {True}


def test_a_unit_that_may_cover_the_peak_goes_before_one_that_cannot() -> None:
    """The rated unit is sure of more, yet too small; the chamber's mean dose still covers the peak."""
    request = site("cottage")
    rated = request["equipment"][0]
    open_ended = chambers()["equipment"][1]
    sure = run("site/plan", {**request, "equipment": [rated]}).choices[0].flow_lower_bound
    output = 17.0
    for _ in range(60):  # an output at which the sure flow of the chamber is below the rated unit's, and its mean above
        unit = {**open_ended, "uvc_output": f"{output!r} W"}
        bounds = run("site/plan", {**request, "equipment": [unit]}).choices[0]
        if bounds.flow_lower_bound < sure < bounds.derated_flow:
            break
        output *= 0.9 if bounds.flow_lower_bound >= sure else 1.1
    assert bounds.flow_lower_bound < sure < bounds.derated_flow
    peak = 0.5 * (sure + bounds.derated_flow)
    answer = run("site/plan", {**request, "equipment": [rated, unit], "peak_flow": f"{peak!r} L/min"})
    assert [choice.covers_peak_flow for choice in answer.choices] == [False, None]
    assert [choice.chosen for choice in answer.choices] == [False, True]
    assert "unit_too_small" not in {reason.code for reason in answer.reasons}


@pytest.mark.parametrize("peak", ["2 L/min", "40 L/min"])
def test_the_peak_turns_where_even_the_mean_dose_misses(peak: str) -> None:
    request = {**chambers(), "peak_flow": peak, "sensitivity": True, "units": "us"}
    request.pop("upkeep")
    answer = run("site/plan", request)
    most = max(choice.derated_flow for choice in answer.choices)
    (turn,) = (one for one in answer.sensitivity if one.input == "peak_flow" and one.reason == "unit_too_small")
    assert float(turn.threshold.split()[0]) == pytest.approx(most, rel=1e-5)
    for share, too_small in ((0.999, False), (1.001, True)):
        moved = run("site/plan", {**request, "peak_flow": f"{most * share!r} gal/min"})
        assert ("unit_too_small" in {reason.code for reason in moved.reasons}) is too_small


def test_the_shortfall_is_that_of_the_flow_that_is_sure() -> None:
    request = {**chambers(), "peak_flow": "90 L/min", "units": "us"}
    request.pop("upkeep")
    answer = run("site/plan", request)
    (reason,) = (one for one in answer.reasons if one.code == "unit_too_small")
    unit = answer.equipment[chosen(answer).number]
    assert float(reason.exceeds_limit_by.split()[0]) >= answer.peak_flow - unit.flow_lower_bound


def heavy(answer: Any) -> set[tuple[str, str, str]]:
    return {(reason.section, reason.code, reason.severity) for reason in answer.reasons}


@pytest.mark.parametrize(
    ("section", "name", "own", "reason"),
    [
        ("equipment", "peak_flow", "3 L/min", ("equipment.1", "smaller_peak_flow", "fix_first")),
        ("plumbing", "flow", "3 L/min", ("plumbing", "smaller_peak_flow", "fix_first")),
        ("upkeep", "peak_flow", "3 L/min", ("upkeep", "smaller_peak_flow", "fix_first")),
        ("upkeep", "derated_flow", "90 L/min", ("upkeep", "larger_derated_flow", "fix_first")),
        ("equipment", "uvt", "92 %", ("equipment.1", "uvt_above_tested", "check")),
    ],
)
def test_a_value_of_a_sections_own_that_is_better_than_the_plans_is_a_reason(
    section: str, name: str, own: str, reason: tuple[str, str, str]
) -> None:
    request = site("cottage")
    plain = run("site/plan", request)
    assert plain.verdict == "suitable"
    assert not any(
        code in {"smaller_peak_flow", "larger_derated_flow", "uvt_above_tested"} for _, code, _ in heavy(plain)
    )
    place = request[section][1] if section == "equipment" else request[section]
    place[name] = own
    if name == "derated_flow":
        place["lamp_ageing_factor"] = "80 %"
    answer = run("site/plan", request)
    assert reason in heavy(answer)
    assert answer.verdict == ("suitable" if reason[2] == "check" else "fix_first")


@pytest.mark.parametrize(
    ("section", "name", "own"),
    [
        ("equipment", "peak_flow", "8 gal/min"),
        ("plumbing", "flow", "9 gal/min"),
        ("upkeep", "derated_flow", "30.5 L/min"),
        ("equipment", "uvt", "86 %"),
    ],
)
def test_a_value_of_a_sections_own_that_is_no_better_is_none(section: str, name: str, own: str) -> None:
    request = site("cottage")
    place = request[section][1] if section == "equipment" else request[section]
    place[name] = own
    if name == "derated_flow":
        place["lamp_ageing_factor"] = "80 %"
    codes = {code for _, code, _ in heavy(run("site/plan", request))}
    assert not codes & {"smaller_peak_flow", "larger_derated_flow", "uvt_above_tested"}
