"""Curves, limits, field models and map: each against uv/dose and uv/derated-flow, and by hand."""

from __future__ import annotations

import numpy as np
import pytest

from assertions import faults
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from requests_uv_curves import CABIN, PASSAGE, SPREADS, TAIL

AGEING = {"end_of_life": "9000 h", "end_of_life_factor": "80 %"}


@PASSAGE
def test_each_point_of_a_curve_is_a_derated_flow(passage):
    base = {**CABIN, **passage, "safety_factor": "1.2", "peak_flow": "10 L/min"}
    curve = run(
        "uv/derating-curve",
        {**base, **AGEING, "uvts": "70, 91, 99 %", "lamp_hours": "0, 9000 h", "sleeve_fouling_factors": "60, 80 %"},
    )
    for point in [*curve.by_uvt, *curve.by_lamp_hours, *curve.by_fouling]:
        alone = run(
            "uv/derated-flow",
            {
                **base,
                "uvt": f"{point.uvt} %",
                "lamp_ageing_factor": f"{point.lamp_ageing_factor} %",
                "sleeve_fouling_factor": f"{point.sleeve_fouling_factor} %",
            },
        )
        assert point.derated_flow == pytest.approx(alone.derated_flow, rel=1e-8)
        assert point.flow_margin == pytest.approx(alone.flow_margin, rel=1e-6, abs=1e-9)
    assert curve.by_uvt[1].derated_flow == pytest.approx(curve.derated_flow, rel=1e-12)
    assert [point.lamp_ageing_factor for point in curve.by_lamp_hours] == pytest.approx([100.0, 80.0])


@pytest.mark.parametrize("organism", [{"inactivation_rate": "0.12 cm2/mJ"}, {"dose_response": TAIL}])
@pytest.mark.parametrize("lowest", [60, 1])
def test_many_points_of_a_laminar_curve_are_derated_flows_and_rows_of_a_batch_are_single_curves(organism, lowest):
    uvts = np.linspace(lowest, 100, 40)
    base = {**CABIN, **organism, "hydraulics": "laminar", "safety_factor": "1.2"}
    request = {**base, "uvts": ", ".join(map(repr, uvts.tolist())) + " %"}
    curve = run("uv/derating-curve", request)
    assert any("flows interpolated" in basis.method for basis in curve.basis)
    for point, uvt in zip(curve.by_uvt[::3], uvts[::3].tolist(), strict=True):
        alone = run("uv/derated-flow", {**base, "uvt": f"{uvt!r} %"})
        assert point.derated_flow == pytest.approx(alone.derated_flow, rel=1e-6)
    columns = {"chamber_bore": ["76 mm", "120 mm", "1000 mm"], "uvc_output": ["14 W", "20 W", "30 W"]}
    together = run_batch("uv/derating-curve", {**request, **columns})
    for row in range(3):
        single = run("uv/derating-curve", {**request, **{name: values[row] for name, values in columns.items()}})
        flows = [together[f"by_uvt.{number}.derated_flow"][row] for number in range(40)]
        assert flows == [point.derated_flow for point in single.by_uvt]


def test_a_batch_of_organisms_has_curves_too():
    request = {**CABIN, "hydraulics": "tanks_in_series", "tanks": "3", "uvts": "70, 80, 91 %"}
    rates = [0.1, 0.2, 0.4, 0.5]
    shoulder = {"kind": "shoulder", "rate": [f"{rate} cm2/mJ" for rate in rates], "shoulder_dose": "8 mJ/cm2"}
    together = run_batch("uv/derating-curve", {**request, "dose_response": shoulder})
    for row, rate in enumerate(rates):
        single = run("uv/derating-curve", {**request, "dose_response": {**shoulder, "rate": f"{rate} cm2/mJ"}})
        assert together["derated_flow"][row] == single.derated_flow
        assert together["by_uvt.1.derated_flow"][row] == single.by_uvt[1].derated_flow


@PASSAGE
def test_the_derated_flow_gives_the_target(passage):
    flow = run("uv/derated-flow", {**CABIN, **passage, "target_dose": "35 mJ/cm2"}).derated_flow
    dose = run("uv/dose", {**CABIN, **passage, "flow": f"{flow!r} L/min"})
    assert dose.reduction_equivalent_dose == pytest.approx(35.0, rel=1e-7)


def test_ageing_by_points_and_its_ends():
    points = {"ageing_hours": "0, 1000, 9000 h", "ageing_factors": "100, 92, 80 %"}
    curve = run("uv/derating-curve", {**CABIN, **points, "lamp_hours": "500, 5000 h"})
    assert [point.lamp_ageing_factor for point in curve.by_lamp_hours] == pytest.approx([96.0, 86.0])
    path = "uv/derating-curve"
    assert faults(path, {**CABIN, **points, "lamp_hours": "9001 h"}) == {("/lamp_hours", "outside_ageing_curve")}
    assert faults(path, {**CABIN, **AGEING, "lamp_hours": "9001 h"}) == {("/lamp_hours", "outside_ageing_curve")}
    assert faults(path, {**CABIN, "lamp_hours": "1 h"}) == {
        ("/end_of_life", "required"),
        ("/end_of_life_factor", "required"),
    }
    rising = {**points, "ageing_factors": "90, 92, 80 %"}
    assert faults(path, {**CABIN, **rising}) == {("/ageing_factors", "not_decreasing")}
    assert faults(path, {**CABIN, **points, "ageing_hours": "0, 0, 9 h"}) == {("/ageing_hours", "not_increasing")}
    assert faults(path, {**CABIN, **points, "ageing_hours": "0, 9 h"}) == {("/ageing_factors", "lengths_differ")}


@PASSAGE
def test_limits_are_where_the_target_is_just_met(passage):
    base = {**CABIN, **passage, "flow": "8 L/min", "target_dose": "30 mJ/cm2"}
    limits = run("uv/limits", {**base, **AGEING})
    assert limits.meets_target is True
    assert "calculated_not_validated" in {warning.code for warning in limits.warnings}

    def red(**changed):
        return run("uv/dose", {**base, **changed}).reduction_equivalent_dose

    assert limits.dose_at_flow == pytest.approx(red(), rel=1e-12)
    for changed in (
        {"uvt": f"{limits.lowest_uvt!r} %"},
        {"lamp_ageing_factor": f"{limits.lowest_lamp_ageing_factor!r} %"},
        {"sleeve_fouling_factor": f"{limits.lowest_sleeve_fouling_factor!r} %"},
        {"flow": f"{limits.highest_flow!r} L/min"},
    ):
        assert red(**changed) == pytest.approx(30.0, rel=1e-6), changed
    hours = 9000.0 * np.log(limits.lowest_lamp_ageing_factor / 100.0) / np.log(0.8)
    assert limits.lamp_hours_to_limit == pytest.approx(hours, rel=1e-9)


@pytest.mark.parametrize("organism", [{}, {"inactivation_rate": "0.12 cm2/mJ"}])
def test_limits_without_hydraulics_have_both_bounds_and_no_verdict(organism):
    base = {**CABIN, **organism, "target_dose": "30 mJ/cm2"}
    limits, dose = run("uv/limits", {**base, "flow": "8 L/min"}), run("uv/dose", {**base, "flow": "8 L/min"})
    assert limits.meets_target is None
    assert limits.dose_at_flow == pytest.approx(dose.red_upper_bound, rel=1e-12)
    assert limits.dose_lower_bound == pytest.approx(dose.red_lower_bound, rel=1e-12)
    lower, upper = limits.highest_flow_lower_bound, limits.highest_flow
    assert lower < upper
    at_lower = run("uv/dose", {**base, "flow": f"{lower!r} L/min"})
    assert at_lower.red_lower_bound == pytest.approx(30.0, rel=1e-6)
    between = run("uv/limits", {**base, "flow": f"{0.5 * (lower + upper)} L/min"})
    assert between.meets_target is None
    assert "target_between_bounds" in {warning.code for warning in between.warnings}
    assert run("uv/limits", {**base, "flow": f"{1.01 * upper} L/min"}).meets_target is False
    assert run("uv/limits", {**base, "flow": "8 L/min", "hydraulics": "plug_flow"}).dose_lower_bound is None
    batch = run_batch("uv/limits", {**base, "flow": ["8 L/min", f"{1.01 * upper} L/min"]})
    assert list(batch.columns["meets_target"]) == [None, False]
    assert batch.columns["highest_flow_lower_bound"][0] == limits.highest_flow_lower_bound


@pytest.mark.parametrize(
    ("path", "more"),
    [
        ("uv/derating-curve", {"uvts": "70, 80, 90 %"}),
        ("uv/uncertainty", {"flow": "10 L/min", "spreads": [{"kind": "standard", "of": "uvt", "uncertainty": "1 %"}]}),
    ],
)
def test_curves_and_intervals_without_hydraulics_warn_that_they_are_upper_bounds(path, more):
    told = {one.code: one.message for one in run(path, {**CABIN, **more}).warnings}
    assert "flows and limits based on it are upper bounds" in told["hydraulics_not_named"]
    named = run(path, {**CABIN, **more, "hydraulics": "plug_flow"}).warnings
    assert "hydraulics_not_named" not in {one.code for one in named}


def test_limits_that_no_condition_meets_are_absent():
    hopeless = run("uv/limits", {**CABIN, "hydraulics": "plug_flow", "flow": "400 L/min"})
    assert hopeless.meets_target is False
    assert "calculated_not_validated" not in {warning.code for warning in hopeless.warnings}
    assert hopeless.flow_margin < 0.0
    assert hopeless.lowest_uvt is None
    assert hopeless.lowest_lamp_ageing_factor is None
    easy = run("uv/limits", {**CABIN, "hydraulics": "plug_flow", "flow": "0.05 L/min"})
    assert easy.lowest_uvt is None
    assert easy.meets_target is True


def test_units_in_series_and_in_parallel():
    base = {**CABIN, "hydraulics": "tanks_in_series", "tanks": "2", "inactivation_rate": "0.1 cm2/mJ"}
    one = run("uv/derated-flow", base).derated_flow
    assert run("uv/derated-flow", {**base, "units_in_parallel": "3"}).derated_flow == pytest.approx(3.0 * one)
    two = run("uv/derated-flow", {**base, "units_in_series": "2"})
    # Each of two units in series gives half the RED, and first-order survivals multiply.
    half = run("uv/dose", {**base, "flow": f"{two.derated_flow!r} L/min"}).reduction_equivalent_dose
    assert 2.0 * half == pytest.approx(40.0, rel=1e-9)
    assert two.derated_flow > 2.0 * one
    assert faults("uv/derated-flow", {**base, "units_in_parallel": "1.5"}) == {("/units_in_parallel", "not_whole")}
    product = np.prod([step.factor for step in two.steps]) * two.steps[0].flow
    assert product == pytest.approx(two.derated_flow, rel=1e-12)


@pytest.mark.parametrize("field", ["sleeve_transmittance", "sleeve_wall", "n_air", "n_quartz", "n_water", "uvt"])
@pytest.mark.parametrize("path", ["uv/dose", "uv/limits", "uv/field-models", "uv/fluence-map"])
def test_a_column_of_any_one_optical_field_is_the_single_answers(path, field):
    columns = {
        "sleeve_transmittance": ["85 %", "90 %"],
        "sleeve_wall": ["1 mm", "2 mm"],
        "n_air": ["1", "1.0003"],
        "n_quartz": ["1.5", "1.51"],
        "n_water": ["1.37", "1.38"],
        "uvt": ["80 %", "95 %"],
    }
    flow = {"flow": "9 L/min"} if path in {"uv/dose", "uv/limits"} else {}
    names = {"uv/limits": "dose_at_flow"}
    batch = run_batch(path, {**CABIN, **flow, field: columns[field]})
    assert not batch.errors
    for row, value in enumerate(columns[field]):
        single = run(path, {**CABIN, **flow, field: value})
        name = names.get(path, "mean_fluence_rate")
        assert batch.columns[name][row] == getattr(single, name)


def test_draws_below_a_floor_of_the_response_are_refused():
    response = {"kind": "first_order", "rate": "0.5 cm2/mJ", "floor": "0.001"}
    request = {**CABIN, "flow": "0.2 L/min", "hydraulics": "laminar", "dose_response": response, "spreads": SPREADS}
    assert faults("uv/uncertainty", request) == {("/dose_response", "red_undefined")}


@pytest.mark.parametrize("path", ["uv/derated-flow", "uv/derating-curve", "uv/limits", "uv/uncertainty"])
def test_a_target_that_tanks_never_reach_is_refused(path):
    request = {**CABIN, "hydraulics": "tanks_in_series", "tanks": "2", "inactivation_rate": "5 cm2/mJ"}
    more: dict[str, dict[str, object]] = {
        "uv/limits": {"flow": "9 L/min"},
        "uv/uncertainty": {"flow": "9 L/min", "spreads": SPREADS, "draws": "200"},
    }
    with pytest.raises(RequestRefused) as refusal:
        run(path, {**request, **more.get(path, {}), "target_dose": "280 mJ/cm2"})
    (fault,) = refusal.value.faults
    assert (fault.pointer, fault.code, fault.allowed) == ("/target_dose", "target_unreachable", "below 280 mJ/cm2")
    run(path, {**request, **more.get(path, {}), "target_dose": "279 mJ/cm2"})
    batch = run_batch(path, {**request, **more.get(path, {}), "target_dose": ["40 mJ/cm2", "300 mJ/cm2"]})
    assert [(one.pointer, one.code, one.rows) for one in batch.errors] == [("/target_dose", "target_unreachable", [1])]


def test_field_models_side_by_side_are_those_of_the_dose():
    request = {**CABIN, "flow": "12 L/min"}
    models = {one.model: one for one in run("uv/field-models", request).models}
    assert set(models) == {"refracted_line", "cosine_segments", "line_source", "radial"}
    for name, one in models.items():
        dose = run("uv/dose", {**request, "field_model": name})
        assert one.mean_dose == pytest.approx(dose.mean_dose, rel=1e-12)
        assert one.mean_fluence_rate == dose.mean_fluence_rate
        assert one.sleeve + one.water + one.wall + one.end_loss == pytest.approx(100.0, abs=1e-4)
    assert models["refracted_line"].ratio == pytest.approx(1.0, rel=1e-6)
    # Ratios of infinitely long lamps: emission changes the average by under 2 %, straight rays by 8 to 50 %.
    assert models["cosine_segments"].ratio == pytest.approx(1.0, abs=0.02)
    assert 1.08 < models["line_source"].ratio < 1.5


def test_the_map_is_the_field():
    answer = run("uv/fluence-map", CABIN)
    assert len(answer.points) == 63
    dose = run("uv/dose", {**CABIN, "flow": "12 L/min"})
    assert answer.mean_fluence_rate == pytest.approx(dose.mean_fluence_rate, rel=1e-6)
    at = {(round(one.radius, 6), round(one.position, 6)): one.fluence_rate for one in answer.points}
    assert at[11.5, 0.0] == pytest.approx(dose.fluence_rate_at_sleeve, rel=1e-6)
    assert at[38.0, 0.0] == pytest.approx(dose.fluence_rate_at_wall, rel=1e-6)
    chosen = run("uv/fluence-map", {**CABIN, "radii": "11.5, 38 mm", "positions": "0 mm"})
    assert [one.fluence_rate for one in chosen.points] == pytest.approx([at[11.5, 0.0], at[38.0, 0.0]], rel=1e-12)
    assert faults("uv/fluence-map", {**CABIN, "radii": "11 mm"}) == {("/radii", "outside_chamber")}
    assert faults("uv/fluence-map", {**CABIN, "positions": "301 mm"}) == {("/positions", "outside_chamber")}
