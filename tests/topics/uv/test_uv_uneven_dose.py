"""uv/dose with every hydraulics, organism, field model and option; its balance and its distribution."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import requests_uv_curves as uv_curves_asked
from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright.tables.ultraviolet import organism_names, organism_response
from dosewright.topics.uv import dose as uv
from dosewright.topics.uv.contracts.lamp import OrganismName
from dosewright.topics.uv.contracts.water import ListedOrganism

PATH = "uv/dose"
CABIN = {**uv_curves_asked.CABIN, "flow": "20 L/min"}
RATE = {"inactivation_rate": "0.12 cm2/mJ"}
TRACER = {"hydraulics": "residence_times", "residence_times": "5, 7, 9 s", "residence_shares": "1, 2, 1"}


def ask(**changed):
    return run(PATH, {**CABIN, **changed})


def faults(**changed):
    with pytest.raises(RequestRefused) as refusal:
        ask(**changed)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}


def test_names_are_those_of_the_table():
    assert set(OrganismName.__args__) == set(organism_names(with_rate=True))
    assert set(ListedOrganism.__args__) == set(organism_names(with_rate=False))


def test_without_hydraulics_both_bounds_and_their_explanation():
    given_rate = ask(**RATE)
    laminar, plug = ask(**RATE, hydraulics="laminar"), ask(**RATE, hydraulics="plug_flow")
    assert given_rate.red_lower_bound == laminar.reduction_equivalent_dose
    assert given_rate.red_upper_bound == plug.reduction_equivalent_dose == given_rate.mean_dose
    assert given_rate.reduction_equivalent_dose is None
    (warning,) = [one for one in given_rate.warnings if one.code == "hydraulics_not_named"]
    assert "depends on how well inlet and baffles mix the water" in warning.message
    assert laminar.red_lower_bound is None
    bare = ask()
    assert bare.red_lower_bound < given_rate.red_lower_bound < bare.red_upper_bound
    between = 0.5 * (bare.red_lower_bound + bare.red_upper_bound)
    assert "target_between_bounds" in codes(ask(target_dose=f"{between} mJ/cm2"))


@given(st.floats(0.02, 1.0), st.floats(1.0, 60.0), st.floats(1.0, 50.0), st.floats(40.0, 99.0))
def test_red_is_below_the_mean_dose_for_first_order(rate, flow, tanks, uvt):
    common = {"inactivation_rate": f"{rate} cm2/mJ", "flow": f"{flow} L/min", "uvt": f"{uvt} %"}
    for extra in ({"hydraulics": "laminar"}, {"hydraulics": "tanks_in_series", "tanks": str(tanks)}, TRACER):
        answer = ask(**common, **extra)
        if extra is not TRACER:
            assert answer.reduction_equivalent_dose <= answer.mean_dose
        assert answer.red_to_mean_dose == pytest.approx(answer.reduction_equivalent_dose / answer.mean_dose)


@pytest.mark.parametrize("how", ["laminar", "tanks_in_series", "plug_flow"])
def test_basis_explains_why_the_red_is_below_the_mean_dose(how):
    extra = {"tanks": "3"} if how == "tanks_in_series" else {}
    answer = ask(hydraulics=how, **RATE, **extra)
    told = [basis.method for basis in answer.basis if basis.method.startswith("red_to_mean_dose")]
    assert len(told) == (answer.red_to_mean_dose < 1.0) == (how != "plug_flow")
    # The more sensitive the organism, the wider the gap.
    sensitive = ask(hydraulics=how, inactivation_rate="0.6 cm2/mJ", **extra)
    assert (sensitive.red_to_mean_dose < answer.red_to_mean_dose) == (how != "plug_flow")


def test_residence_times_by_hand():
    answer = ask(**RATE, **TRACER)
    doses = answer.mean_fluence_rate * np.array([5.0, 7.0, 9.0])
    survival = np.sum(np.array([0.25, 0.5, 0.25]) * np.exp(-0.12 * doses))
    assert answer.reduction_equivalent_dose == pytest.approx(-np.log(survival) / 0.12, rel=1e-12)
    assert "residence_times_differ" not in codes(answer)
    short = codes(ask(**RATE, **{**TRACER, "residence_times": "0.5, 0.7, 9 s"}))
    assert "residence_times_differ" in short
    # No water can stay longer than volume / flow: the dose would be wrong.
    long = codes(ask(**RATE, **{**TRACER, "residence_times": "5, 7, 90 s"}))
    assert "residence_times_too_long" in long
    assert "residence_times_differ" not in long
    assert "not_used" in codes(ask(**RATE, **{**TRACER, "hydraulics": "plug_flow"}))
    assert faults(**RATE, hydraulics="residence_times") == {
        ("/residence_times", "required"),
        ("/residence_shares", "required"),
    }
    assert faults(**RATE, **{**TRACER, "residence_shares": "1, 2"}) == {("/residence_shares", "lengths_differ")}
    assert faults(**RATE, **{**TRACER, "residence_shares": "0, 0, 0"}) == {("/residence_shares", "shares_all_zero")}


@pytest.mark.parametrize("how", ["laminar", "tanks_in_series", "plug_flow", "residence_times", None])
def test_distribution_agrees_with_the_dose(how):
    extra = {"hydraulics": how, "tanks": "3", **RATE} if how else {}
    extra = {**extra, **TRACER} if how == "residence_times" else extra
    answer = ask(**extra, distribution=True)
    spread = answer.dose_distribution
    if how != "residence_times":
        assert spread.mean == pytest.approx(answer.mean_dose, rel=1e-6)
    doses = [one.dose for one in spread.percentiles]
    assert doses == sorted(doses)
    assert doses[0] >= spread.least
    assert sum(one.share for one in spread.histogram) == pytest.approx(100.0, rel=1e-9)
    assert all(one.share >= -1e-9 for one in spread.histogram)
    assert spread.histogram[-1].end is None
    median = next(one.dose for one in spread.percentiles if one.share == 50.0)
    below = ask(**extra, distribution=True, target_dose=f"{median * 1.0001} mJ/cm2").dose_distribution.below_target
    assert below >= 49.9
    assert ask(**extra).dose_distribution is None


RESPONSES = [
    ({"kind": "first_order", "rate": "0.12 cm2/mJ"}, False),
    ({"kind": "two_groups", "rate": "0.3 cm2/mJ", "resistant_fraction": 0.001, "resistant_rate": "0.03 cm2/mJ"}, False),
    ({"kind": "multi_target", "rate": "0.12 cm2/mJ", "targets": 20}, None),
    ({"kind": "shoulder", "rate": "0.12 cm2/mJ", "shoulder_dose": "60 mJ/cm2"}, None),
]


@pytest.mark.parametrize(("response", "above"), RESPONSES)
def test_dose_responses_of_the_caller(response, above):
    for how in ({"hydraulics": "laminar"}, {"hydraulics": "tanks_in_series", "tanks": "2"}, TRACER):
        answer = ask(dose_response=response, **how)
        assert answer.log_inactivation > 0.0
        if above is False and how is not TRACER:
            assert answer.reduction_equivalent_dose <= answer.mean_dose
        assert ("red_above_mean" in codes(answer)) <= (answer.red_to_mean_dose > 1.0)
    plug = ask(dose_response=response, hydraulics="plug_flow")
    assert plug.reduction_equivalent_dose == plug.mean_dose


def test_with_a_shoulder_the_lower_bound_is_at_most_the_mean_dose():
    shoulder = {"kind": "multi_target", "rate": "0.25 cm2/mJ", "targets": 20}
    swapped = ask(dose_response=shoulder, flow="200 L/min")
    assert swapped.red_lower_bound == swapped.red_upper_bound == swapped.mean_dose
    assert "red_above_mean" in codes(swapped)
    convex = ask(inactivation_rate="0.25 cm2/mJ", flow="200 L/min")
    assert convex.red_lower_bound < convex.red_upper_bound
    assert "red_above_mean" not in codes(convex)


def test_first_order_is_the_same_in_each_form_of_request():
    known = organism_response("ms2_coliphage")
    rate = {"value": known.rate, "unit": "m2/J"}
    ways = [
        {"organism": "ms2_coliphage"},
        {"inactivation_rate": rate},
        {"dose_response": {"kind": "first_order", "rate": rate}},
    ]
    for how in ({"hydraulics": "laminar"}, {"hydraulics": "tanks_in_series", "tanks": "3"}):
        reds = [ask(**way, **how).reduction_equivalent_dose for way in ways]
        assert reds[0] == reds[1] == reds[2]


def test_outside_the_data_of_an_organism_no_log_inactivation_is_calculated():
    within, beyond = (
        ask(organism="ms2_coliphage", hydraulics="plug_flow", flow=flow) for flow in ("25 L/min", "2 L/min")
    )
    assert within.log_inactivation == pytest.approx(0.055 * within.reduction_equivalent_dose, rel=1e-9)
    assert beyond.log_inactivation is None
    assert "outside_data" in codes(beyond)
    assert "value_from_memory" in codes(within)
    assert any("from memory" in basis.source for basis in within.basis)


def test_a_floor_above_the_red_is_refused():
    floored = {"kind": "first_order", "rate": "5 cm2/mJ", "floor": 0.05}
    assert faults(dose_response=floored, hydraulics="laminar", flow="0.02 L/min", uvt="99 %") == {
        ("/dose_response", "red_undefined")
    }


def test_unclear_organisms_and_hydraulics_are_refused():
    assert faults(hydraulics="laminar") == {("/inactivation_rate", "required")}
    assert faults(**RATE, organism="escherichia_coli") == {("/organism", "more_than_one")}
    upside_down = {
        "kind": "two_groups",
        "rate": "0.1 cm2/mJ",
        "resistant_fraction": 0.1,
        "resistant_rate": "0.2 cm2/mJ",
    }
    assert faults(dose_response=upside_down) == {("/dose_response/resistant_rate", "response_impossible")}
    assert faults(chamber_bore="76 mm", sleeve_outer_diameter="75.95 mm") == {
        ("/sleeve_outer_diameter", "gap_too_thin")
    }
    assert faults(chamber_bore="76 mm", sleeve_outer_diameter="76 mm") == {
        ("/sleeve_outer_diameter", "chamber_impossible")
    }


@pytest.mark.parametrize("model", ["refracted_line", "cosine_segments", "line_source", "radial"])
@pytest.mark.parametrize("extra", [{}, {"wall_reflectance": "30 %"}, {"opaque_ends": True, "chamber_length": "450 mm"}])
def test_the_energy_balance_closes_in_the_answer(model, extra):
    balance = ask(field_model=model, **extra).energy_balance
    assert abs(balance.residual) < 1e-6
    assert balance.emitted_share == 100.0
    assert balance.sleeve + balance.water + balance.wall + balance.end_loss == pytest.approx(100.0, abs=1e-4)


@pytest.mark.parametrize(("times", "short"), [(10.0, 1e-6), (50.0, 1e-3), (200.0, 1e-2)])
@pytest.mark.parametrize("model", ["refracted_line", "cosine_segments", "line_source"])
def test_the_error_of_wide_chambers_is_that_of_their_warning(times, short, model):
    draw = np.random.default_rng(3)
    rows = 4000
    outer = np.exp(draw.uniform(np.log(4.0), np.log(1000.0 / times), rows))
    arc = np.exp(draw.uniform(np.log(20.0), np.log(3000.0), rows))
    chambers = {
        "chamber_bore": {"value": outer * times * draw.uniform(0.5, 1.0, rows), "unit": "mm"},
        "sleeve_outer_diameter": {"value": outer, "unit": "mm"},
        "sleeve_wall": {"value": outer * draw.uniform(0.03, 0.4, rows) ** 2, "unit": "mm"},
        "arc_length": {"value": arc, "unit": "mm"},
        "uvt": {"value": draw.uniform(1.0, 100.0, rows), "unit": "%"},
    }
    request = {**CABIN, **chambers, "field_model": model, "hydraulics": "plug_flow"}
    for longest, least, most in ((30.0, 1.0, 1e-6), (1.0, 0.3, short)):
        length = np.minimum(arc * draw.uniform(least, longest, rows), 10_000.0)
        batch = run_batch(PATH, {**request, "opaque_ends": True, "chamber_length": {"value": length, "unit": "mm"}})
        residual = np.abs(batch.columns["energy_balance.residual"])
        assert np.count_nonzero(np.isfinite(residual)) > rows / 4
        assert np.nanmax(residual) < most
        warned = next((one for one in batch.warnings if one.code == "wide_chamber"), None)
        assert (warned is None) == (times == 10.0)


def test_a_balance_that_does_not_close_gives_a_warning(monkeypatch):
    assert "energy_balance_not_closed" not in codes(ask())
    monkeypatch.setattr(uv, "_RESIDUAL", 0.0)
    assert "energy_balance_not_closed" in codes(ask())


def test_no_time_in_the_light_is_no_dose_for_any_response():
    for response, _ in RESPONSES:
        nothing = {**TRACER, "residence_times": "10, 20, 0 s", "residence_shares": "0, 0, 1"}
        answer = ask(dose_response=response, **nothing)
        assert answer.reduction_equivalent_dose == pytest.approx(0.0, abs=1e-6)
        assert answer.log_inactivation == pytest.approx(0.0, abs=1e-6)


def test_a_chamber_shorter_than_the_arc_needs_opaque_ends():
    assert faults(chamber_length="450 mm") == {("/chamber_length", "chamber_too_short")}
    short, whole = ask(chamber_length="450 mm", opaque_ends=True), ask(opaque_ends=True)
    assert short.energy_balance.end_loss > whole.energy_balance.end_loss
    assert whole.mean_dose == ask().mean_dose


@pytest.mark.parametrize("uvt", ["1 %", "20 %", "100 %"])
@pytest.mark.parametrize("flow", ["0.01 L/min", "1 m3/s"])
@pytest.mark.parametrize("bore", ["23.1 mm", "76 mm", "1 m"])
def test_extremes_have_a_defined_answer(uvt, flow, bore):
    for how in ({}, {"hydraulics": "laminar", **RATE}, {"hydraulics": "tanks_in_series", "tanks": "0.5", **RATE}):
        answer = ask(uvt=uvt, flow=flow, chamber_bore=bore, **how)
        assert 0.0 < answer.mean_dose < 1e9
        assert abs(answer.energy_balance.residual) < 1e-6


def test_rows_equal_single_calls():
    draw = np.random.default_rng(5)
    flows, uvts = draw.uniform(2.0, 40.0, 12), draw.uniform(60.0, 99.0, 12)
    for extra in (
        {**RATE},
        {**RATE, "hydraulics": "laminar", "wall_reflectance": "20 %", "distribution": True},
        {
            "dose_response": {"kind": "shoulder", "rate": "0.1 cm2/mJ", "shoulder_dose": "9 mJ/cm2"},
            "hydraulics": "tanks_in_series",
            "tanks": "3",
        },
        {**RATE, **TRACER},
    ):
        fixed = {**CABIN, **extra}
        together = run_batch(
            PATH,
            {**fixed, "flow": {"value": flows, "unit": "L/min"}, "uvt": {"value": uvts, "unit": "%"}},
        )
        assert not together.errors
        for row in range(12):
            single = run(
                PATH,
                {**fixed, "flow": {"value": flows[row], "unit": "L/min"}, "uvt": {"value": uvts[row], "unit": "%"}},
            )
            for name in ("reduction_equivalent_dose", "red_lower_bound", "log_inactivation"):
                value = getattr(single, name)
                found = together[name][row]
                assert found == value or (value is None and found != found)
            if single.dose_distribution is not None:
                assert (
                    together["dose_distribution.percentiles.3.dose"][row]
                    == single.dose_distribution.percentiles[3].dose
                )
