"""One test for each sentence on what an answer on ultraviolet light must not promise.

What takes long to check, such as the accuracy of integrals, is in `test_uv_safe.py` and `test_uv_credit.py`.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import pytest

from asgi import get
from assertions import codes, faults
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import find
from dosewright.engine.run import run
from dosewright_sdk import InProcess
from dosewright_sdk.pint import as_pint
from invented_chamber import CHAMBER

if TYPE_CHECKING:
    from dosewright.engine.base import Answer

ORGANISMS = next(one for one in reader_for(find("uv/inactivation").request).fields if one.name == "organism").names
RESPONSES: dict[str, dict[str, Any]] = {
    "multi_target": {"kind": "multi_target", "rate": "0.05 m2/J", "targets": "20"},
    "shoulder": {"kind": "shoulder", "rate": "0.05 m2/J", "shoulder_dose": "30 mJ/cm2"},
    "two_groups": {
        "kind": "two_groups",
        "rate": "0.05 m2/J",
        "resistant_fraction": "0.001",
        "resistant_rate": "0.001 m2/J",
    },
    "floor": {"kind": "first_order", "rate": "0.01 m2/J", "floor": "0.001"},
}
WITH_A_SHOULDER = pytest.mark.parametrize("kind", ["multi_target", "shoulder"])
EVERY_RESPONSE = pytest.mark.parametrize("kind", RESPONSES)
UNEVEN = pytest.mark.parametrize(
    "hydraulics",
    [{"hydraulics": "laminar"}, {"hydraulics": "tanks_in_series", "tanks": "4"}],
    ids=lambda one: one["hydraulics"],
)
SPREADS = [{"kind": "standard", "of": "uvt", "uncertainty": "1 %"}]
DRAWS = {"flow": "20 L/min", "spreads": SPREADS, "draws": "400", "coverage": "95 %"}
LOW = "2 mJ/cm2"  # behind these shoulders, where the RED of uneven doses is above their mean
MEAN = {"hydraulics": "plug_flow"}
CURVES = {"uvts": "75, 85, 95 %", "lamp_hours": "0, 6000 h", "end_of_life": "9000 h", "end_of_life_factor": "80 %"}


def fields_of(answer: Answer, code: str) -> set[str]:
    return {warning.field for warning in answer.warnings if warning.code == code}


# With a shoulder or a tail the RED can exceed the mean dose; no more than the mean dose is credited.


@EVERY_RESPONSE
@UNEVEN
@pytest.mark.parametrize("target", [LOW, "20 mJ/cm2", "30 mJ/cm2"])
def test_no_point_of_a_curve_is_above_the_flow_of_the_mean_dose(kind: str, hydraulics: Any, target: str) -> None:
    request = {**CHAMBER, **CURVES, "sleeve_fouling_factors": "70, 100 %", "target_dose": target}
    most = run("uv/derating-curve", {**request, **MEAN})
    curve = run("uv/derating-curve", {**request, **hydraulics, "dose_response": RESPONSES[kind]})
    assert curve.derated_flow <= most.derated_flow * (1.0 + 1e-6)
    for name in ("by_uvt", "by_lamp_hours", "by_fouling"):
        points = list(zip(getattr(curve, name), getattr(most, name), strict=True))
        assert points
        for point, bound in points:
            assert 0.0 < point.derated_flow <= bound.derated_flow * (1.0 + 1e-6)


@EVERY_RESPONSE
@UNEVEN
@pytest.mark.parametrize("target", [LOW, "20 mJ/cm2", "30 mJ/cm2"])
def test_no_interval_of_flow_or_red_is_above_that_of_the_mean_dose(kind: str, hydraulics: Any, target: str) -> None:
    request = {**CHAMBER, **DRAWS, "target_dose": target}
    most = run("uv/uncertainty", {**request, **MEAN})
    given = run("uv/uncertainty", {**request, **hydraulics, "dose_response": RESPONSES[kind]})
    for name in ("value", "mean", "low", "high"):  # the same draws, one by one
        assert getattr(given.derated_flow, name) <= getattr(most.derated_flow, name) * (1.0 + 1e-6)
        red = getattr(given.reduction_equivalent_dose, name)
        assert red <= getattr(given.mean_dose, name) * (1.0 + 1e-6)
    assert given.target_met_share <= most.target_met_share


@WITH_A_SHOULDER
@UNEVEN
def test_each_calculation_says_where_it_credits_the_mean_dose(kind: str, hydraulics: Any) -> None:
    request = {**CHAMBER, **hydraulics, "dose_response": RESPONSES[kind]}
    for path, more, field in (
        ("uv/dose", {"flow": "900 L/min"}, "reduction_equivalent_dose"),
        ("uv/derated-flow", {}, "derated_flow"),
        ("uv/derating-curve", CURVES, "derated_flow"),
        ("uv/limits", {"flow": "900 L/min"}, "highest_flow"),
        ("uv/uncertainty", {**DRAWS, "flow": "900 L/min"}, "reduction_equivalent_dose"),
    ):
        capped = run(path, {**request, **more, "target_dose": LOW})
        assert field in fields_of(capped, "red_above_mean"), path
        even = run(path, {**request, **more, **MEAN, "tanks": None, "target_dose": LOW})
        assert "red_above_mean" not in codes(even), path


@WITH_A_SHOULDER
def test_the_lower_bound_says_where_it_is_the_mean_dose(kind: str) -> None:
    request = {**CHAMBER, "dose_response": RESPONSES[kind]}
    for path, more, field in (
        ("uv/dose", {"flow": "900 L/min"}, "red_lower_bound"),
        ("uv/derated-flow", {}, "flow_lower_bound"),
        ("uv/derating-curve", CURVES, "flow_lower_bound"),
        ("uv/limits", {"flow": "900 L/min"}, "highest_flow_lower_bound"),
    ):
        assert field in fields_of(run(path, {**request, **more, "target_dose": LOW}), "red_above_mean"), path
        slow = {name: "2 L/min" for name in more if name == "flow"}
        above = run(path, {**request, **more, **slow, "target_dose": "60 mJ/cm2"})
        assert "red_above_mean" not in codes(above), path


@UNEVEN
def test_a_batch_names_the_rows_that_are_credited_with_the_mean_dose(hydraulics: Any) -> None:
    rows = {"dose_response": RESPONSES["multi_target"], "target_dose": [LOW, "60 mJ/cm2"]}
    for path, more in (("uv/derated-flow", {}), ("uv/derating-curve", CURVES), ("uv/uncertainty", DRAWS)):
        together = run_batch(path, {**CHAMBER, **hydraulics, **more, **rows})
        capped = [warning.rows for warning in together.warnings if warning.code == "red_above_mean"]
        assert capped == [[0]], path


# No bound is above its value, and where no hydraulics are named nothing is promised.


def test_a_single_rated_point_has_a_lower_bound_up_to_1_6_times_less() -> None:
    point = {"rated_flow": "45 L/min", "uvt": "95 %", "dose": "40 mJ/cm2"}
    point |= {"lamp_ageing_factor": "80 %", "sleeve_fouling_factor": "100 %"}
    chamber = {name: value for name, value in CHAMBER.items() if name != "uvc_output"}
    shares = []
    for uvt in ("94 %", "85 %", "75 %", "60 %"):
        given = run("uv/derated-flow", {**chamber, "uvt": uvt, "target_dose": "40 mJ/cm2", "rated_points": [point]})
        shares.append(given.derated_flow / given.flow_lower_bound)
    assert 1.0 < shares[0] < shares[1] < shares[2]
    assert 1.2 < max(shares) < 1.7


def test_without_hydraulics_no_calculation_promises_anything() -> None:
    request = {**CHAMBER, "target_dose": "1 mJ/cm2"}  # even the lower bound is far above
    assert run("uv/dose", {**request, "flow": "1 L/min"}).meets_target is None
    flow = run("uv/derated-flow", {**request, "peak_flow": "1 L/min"})
    assert (flow.covers_peak_flow, flow.flow_margin) == (None, None)
    curve = run("uv/derating-curve", {**request, **CURVES, "peak_flow": "1 L/min"})
    assert {point.flow_margin for point in (*curve.by_uvt, *curve.by_lamp_hours)} == {None}
    limits = run("uv/limits", {**request, "flow": "1 L/min"})
    assert (limits.meets_target, limits.flow_margin) == (None, None)
    drawn = run("uv/uncertainty", {**request, **DRAWS, "flow": "1 L/min"})
    assert (drawn.target_met_share, drawn.reduction_equivalent_dose) == (None, None)


def test_the_method_sheet_of_the_curve_has_its_lower_bound() -> None:
    sheet = get("/methods/uv/derating-curve").body.decode()
    assert "Lower bound where no hydraulics are named" in sheet
    assert "least dose times flow of a streamline" in sheet


@pytest.mark.parametrize("response", [None, *RESPONSES])
def test_each_optimistic_limit_has_its_pessimistic_partner(response: str | None) -> None:
    own = {} if response is None else {"dose_response": RESPONSES[response]}
    request = {**CHAMBER, **own, "target_dose": "20 mJ/cm2", "flow": "20 L/min"}
    given = run("uv/limits", request)
    pairs = (
        (given.lowest_uvt, given.optimistic_lowest_uvt, "uvt"),
        (given.lowest_lamp_ageing_factor, given.optimistic_lowest_lamp_ageing_factor, "lamp_ageing_factor"),
        (given.lowest_sleeve_fouling_factor, given.optimistic_lowest_sleeve_fouling_factor, "sleeve_fouling_factor"),
    )
    for sure, optimistic, name in pairs:
        assert optimistic <= sure, name
        # At the sure limit unmixed flow, the lower bound, just gives the target; at the optimistic one the mean does.
        at_sure = run("uv/dose", {**request, name: f"{sure!r} %"})
        assert at_sure.red_lower_bound == pytest.approx(20.0, rel=2e-3), name
        at_optimistic = run("uv/dose", {**request, name: f"{optimistic!r} %"})
        assert at_optimistic.mean_dose == pytest.approx(20.0, rel=1e-5), name
    assert "hydraulics_not_named" in codes(given)


# One null has one meaning.


@pytest.mark.parametrize("hydraulics", [{}, MEAN])
@pytest.mark.parametrize(("flow", "never"), [("0.01 L/min", True), ("60000 L/min", False)])
def test_an_absent_limit_of_uvt_says_which_way(flow: str, hydraulics: Any, *, never: bool) -> None:
    request = {**CHAMBER, **hydraulics, "chamber_bore": "40 mm", "target_dose": "1 mJ/cm2", "flow": flow}
    given = run("uv/limits", request)
    assert given.lowest_uvt is None
    assert given.uvt_limit == ("never_fails" if never else "fails_immediately")
    if not never:
        for value, limit in (
            (given.lowest_lamp_ageing_factor, given.lamp_ageing_limit),
            (given.lowest_sleeve_fouling_factor, given.sleeve_fouling_limit),
        ):
            assert (value, limit) == (None, "fails_immediately")


# Inactivation


@pytest.mark.parametrize("organism", ORGANISMS)
def test_a_value_that_is_not_there_cannot_be_picked(organism: str) -> None:
    """At 1,000 mJ/cm2 every organism is beyond its data: a reason, and no empty body."""
    asked = f"/v1/uv/inactivation?organism={organism}&dose=1000+mJ/cm2"
    reply = get(f"{asked}&pick=log_inactivation")
    assert reply.status == 422
    (fault,) = reply.json()["errors"]
    assert (fault["pointer"], fault["code"]) == ("/pick", "no_value")
    assert "Outside the data of this organism" in fault["message"]
    assert float(get(f"{asked}&pick=log_lower_bound").body) > 0.0


def test_a_value_that_is_not_there_is_no_quantity_of_the_client() -> None:
    pint = pytest.importorskip("pint")
    answer = InProcess().uv.limits(**{**CHAMBER, "flow": "9000 L/min", "target_dose": "5 mJ/cm2", **MEAN})
    assert answer.lowest_uvt is None
    with pytest.raises(ValueError, match="lowest_uvt has no value in this answer"):
        as_pint(answer, "lowest_uvt", pint.UnitRegistry())
    beyond = InProcess().uv.inactivation(organism=ORGANISMS[0], dose="1000 mJ/cm2")
    with pytest.raises(ValueError, match="Outside the data of this organism"):
        as_pint(beyond, "log_inactivation", pint.UnitRegistry())


# Standing water, walls, lamps and draws

IDLE = {**find("uv/idle-heating").example, "limit_temperature": "30 degC"}


@pytest.mark.parametrize("start", ["30 degC", "35 degC", "60 degC"])
@pytest.mark.parametrize("standing_time", ["1 s", "8 h"])
def test_water_that_starts_at_the_limit_is_never_below_it(start: str, standing_time: str) -> None:
    given = run("uv/idle-heating", {**IDLE, "water_temperature": start, "standing_time": standing_time})
    assert (given.stays_below_limit, given.time_to_limit) == (False, 0.0)
    assert {"starts_above_limit", "pressure_drop_above_limit"} <= codes(given)


@pytest.mark.parametrize("reflectance", [31, 60, 90])
def test_a_wall_beyond_steel_is_pointed_out_everywhere(reflectance: int) -> None:
    request = {**CHAMBER, "target_dose": "40 mJ/cm2", "wall_reflectance": f"{reflectance} %"}
    for path, more in (
        ("uv/dose", {"flow": "20 L/min"}),
        ("uv/derated-flow", {}),
        ("uv/derating-curve", CURVES),
        ("uv/limits", {"flow": "20 L/min"}),
        ("uv/uncertainty", DRAWS),
    ):
        assert "reflectance_above_steel" in codes(run(path, {**request, **more})), path
        steel = run(path, {**request, **more, "wall_reflectance": "29 %"})
        assert "reflectance_above_steel" not in codes(steel), path


# Electrical power and arc length of generic lamps, nominal data from memory, common practice, no source.
ELECTRICAL = [(80, 4), (360, 15), (800, 30), (1110, 36), (212, 14), (356, 21), (762, 37), (762, 80), (1470, 65)]
# UV-C of the standard ones, from the same data.
UVC = [(80, 0.9), (360, 4.9), (800, 12), (1110, 15), (212, 4), (356, 7), (762, 13), (1470, 24)]
POWER = {"output_like_electrical_power", "output_or_electrical_power"}


@pytest.mark.parametrize(("arc", "watts"), ELECTRICAL)
def test_the_electrical_power_of_every_lamp_is_pointed_out(arc: int, watts: int) -> None:
    lamp = {"arc_length": f"{arc} mm", "chamber_length": f"{arc + 60} mm", "uvc_output": f"{watts} W"}
    given = run("uv/dose", {**CHAMBER, **lamp, "flow": "20 L/min", "target_dose": "40 mJ/cm2"})
    assert codes(given) & POWER
    flow = run("uv/derated-flow", {**CHAMBER, **lamp, "target_dose": "40 mJ/cm2"})
    assert codes(flow) & POWER == codes(given) & POWER


@pytest.mark.parametrize(("arc", "watts"), UVC)
def test_the_light_of_a_standard_lamp_is_not_taken_for_its_power(arc: int, watts: float) -> None:
    lamp = {"arc_length": f"{arc} mm", "chamber_length": f"{arc + 60} mm", "uvc_output": f"{watts} W"}
    given = run("uv/dose", {**CHAMBER, **lamp, "flow": "20 L/min", "target_dose": "40 mJ/cm2"})
    assert not codes(given) & {*POWER, "output_implausible"}


@pytest.mark.parametrize(("coverage", "needed"), [("99 %", 400), ("99.9 %", 4000), ("95 %", 100)])
def test_too_few_draws_say_how_many_are_needed(coverage: str, needed: int) -> None:
    request = {**CHAMBER, **DRAWS, "target_dose": "20 mJ/cm2", "coverage": coverage}
    with pytest.raises(RequestRefused) as refused:
        run(
            "uv/uncertainty",
            {**request, "draws": str(max(100, needed - 1))} if needed > 100 else {**request, "draws": "99"},
        )
    (fault,) = refused.value.faults
    assert fault.pointer == "/draws"
    assert re.search(rf"\b{needed}\b", f"{fault.message} {fault.allowed}")
    assert run("uv/uncertainty", {**request, "draws": str(needed)}).mean_dose.low > 0.0


def test_too_few_draws_in_a_batch_say_how_many_the_rows_need() -> None:
    rows = {"coverage": ["95 %", "99 %", "99.9 %"], "draws": ["400", "300", "400"]}
    together = run_batch("uv/uncertainty", {**CHAMBER, **DRAWS, "target_dose": "20 mJ/cm2", **rows})
    (fault,) = together.errors
    assert (fault.pointer, fault.code, fault.rows) == ("/draws", "too_few_draws", [1, 2])
    assert re.search(r"\b4000\b", f"{fault.message} {fault.allowed}")


def test_residence_times_of_another_flow_give_no_verdict_either_way() -> None:
    tracer = {"hydraulics": "residence_times", "residence_shares": "1, 1", "inactivation_rate": "0.02 m2/J"}
    for target in ("0.1 mJ/cm2", "900 mJ/cm2"):
        for times in ("1, 2 s", "100, 200 s"):
            asked = {**CHAMBER, **tracer, "residence_times": times, "flow": "20 L/min", "target_dose": target}
            given = run("uv/dose", asked)
            assert given.meets_target is None
            assert "no_verdict" in codes(given)


# The plain line source


@pytest.mark.parametrize("uvt", ["40 %", "75 %", "97 %"])
def test_the_plain_line_states_its_error_in_every_calculation(uvt: str) -> None:
    request = {**CHAMBER, "uvt": uvt, "field_model": "line_source", "target_dose": "40 mJ/cm2"}
    plain, bent = (
        run("uv/dose", {**request, "field_model": model, "flow": "20 L/min"}).mean_fluence_rate
        for model in ("line_source", "refracted_line")
    )
    way = "too high" if plain > bent else "too low"
    for path, more in (
        ("uv/dose", {"flow": "20 L/min"}),
        ("uv/derated-flow", {}),
        ("uv/derating-curve", CURVES),
        ("uv/limits", {"flow": "20 L/min"}),
        ("uv/uncertainty", DRAWS),
    ):
        (message,) = (one.message for one in run(path, {**request, **more}).warnings if one.code == "line_source_error")
        assert way in message, path


def test_a_contradiction_between_fields_is_no_value_out_of_range() -> None:
    tracer = {"hydraulics": "residence_times", "residence_times": "5, 8 s", "residence_shares": "0, 0"}
    request = {**CHAMBER, **tracer, "inactivation_rate": "0.02 m2/J", "flow": "20 L/min", "target_dose": "20 mJ/cm2"}
    assert faults("uv/dose", request) == {("/residence_shares", "shares_all_zero")}
