"""uv/uncertainty as a caller sees it: spreads, draws, intervals, refusals. The cabin is invented."""

from __future__ import annotations

import numpy as np
import pytest

from assertions import faults
from dosewright.core import spread
from dosewright.core.light.doses import laminar_draws
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from requests_uv_curves import CABIN, PASSAGE, SPREADS


@PASSAGE
def test_small_uncertainties_propagate_linearly(passage):
    request = {**CABIN, **passage, "flow": "12 L/min", "spreads": SPREADS, "draws": "4000"}
    answer = run("uv/uncertainty", request)
    assert answer.mean_dose.standard_uncertainty / answer.mean_dose.value == pytest.approx(
        answer.linear_relative_uncertainty, rel=0.05
    )
    # By hand: flow uniform over +-5 %, power 3 %; the slope in UVT by a small step.
    step = [run("uv/dose", {**CABIN, "flow": "12 L/min", "uvt": uvt}).mean_dose for uvt in ("90.99 %", "91.01 %")]
    slope = (step[1] - step[0]) / (0.02 / 91.0) / answer.mean_dose.value
    by_hand = np.sqrt((0.005 * slope) ** 2 + 0.03**2 + (0.1 / np.sqrt(12.0)) ** 2)
    assert answer.linear_relative_uncertainty == pytest.approx(by_hand, rel=1e-3)
    assert answer.mean_dose.low < answer.mean_dose.value < answer.mean_dose.high
    assert answer == run("uv/uncertainty", request)
    other = run("uv/uncertainty", {**request, "seed": "2"})
    assert other.mean_dose.mean != answer.mean_dose.mean
    assert other.mean_dose.mean == pytest.approx(answer.mean_dose.mean, rel=5e-3)
    dose = run("uv/dose", {**CABIN, **passage, "flow": "12 L/min"})
    assert answer.reduction_equivalent_dose.value == pytest.approx(dose.reduction_equivalent_dose, rel=1e-12)


SLEEVE_SPREAD = {"kind": "range", "of": "sleeve_transmittance", "low": "92 %", "high": "102 %"}


@pytest.mark.parametrize("model", ["refracted_line", "line_source"])
@pytest.mark.parametrize(
    "spreads",
    [SPREADS, SPREADS[1:], [*SPREADS, SLEEVE_SPREAD], [SLEEVE_SPREAD]],
    ids=["water too", "lamp and flow", "all", "sleeve"],
)
def test_laminar_draws_are_single_answers(spreads, model, monkeypatch):
    """Interpolation between waters and sleeves gives the same as each draw calculated separately."""
    laminar = {"hydraulics": "laminar", "inactivation_rate": "0.12 cm2/mJ"}
    request = {**CABIN, **laminar, "flow": "12 L/min", "draws": "300", "spreads": spreads, "field_model": model}
    quick = run("uv/uncertainty", request)
    asked = []
    monkeypatch.setattr(laminar_draws, "_knots_needed", lambda *_: asked.append(1))
    slow = run("uv/uncertainty", request)
    assert asked
    for part in ("reduction_equivalent_dose", "derated_flow"):
        for name in ("value", "mean", "standard_uncertainty", "low", "high"):
            assert getattr(getattr(quick, part), name) == pytest.approx(getattr(getattr(slow, part), name), rel=1e-7)


def test_coverage_is_the_share_between_the_ends():
    request = {**CABIN, "flow": "12 L/min", "hydraulics": "plug_flow", "spreads": SPREADS, "coverage": "68 %"}
    narrow, wide = run("uv/uncertainty", request), run("uv/uncertainty", {**request, "coverage": "95 %"})
    assert wide.mean_dose.low < narrow.mean_dose.low < narrow.mean_dose.high < wide.mean_dose.high
    half = run("uv/uncertainty", {**request, "target_dose": f"{wide.mean_dose.value} mJ/cm2"})
    assert half.target_met_share == pytest.approx(50.0, abs=3.0)
    assert wide.target_met_share in {0.0, 100.0}


def test_draws_have_the_requested_moments():
    normal = np.random.default_rng(1).standard_normal(200_000)
    positive = spread.log_normal(7.0, 0.2, normal)
    assert positive.min() > 0.0
    assert np.mean(positive) == pytest.approx(7.0, rel=2e-3)
    assert np.std(positive) == pytest.approx(1.4, rel=1e-2)
    share = spread.logit_normal(0.9, 0.01, normal)
    assert 0.0 < share.min() < share.max() < 1.0
    assert np.median(share) == pytest.approx(0.9, rel=1e-3)
    assert np.std(share) == pytest.approx(0.009, rel=2e-2)


def test_impossible_spreads_are_refused():
    def told(*items, **changed):
        return faults("uv/uncertainty", {**CABIN, "flow": "9 L/min", "spreads": list(items), **changed})

    assert told(SPREADS[0], SPREADS[0]) == {("/spreads/1/of", "repeated")}
    assert told({"kind": "standard", "of": "uvt", "uncertainty": "20 %"}) == {
        ("/spreads/0/uncertainty", "too_close_to_all")
    }
    assert told({"kind": "range", "of": "uvt", "low": "90 %", "high": "120 %"}) == {("/spreads/0/high", "above_all")}
    sleeve = {"kind": "range", "of": "sleeve_transmittance", "low": "90 %", "high": "105 %"}
    assert told(sleeve) == {("/spreads/0/high", "above_all")}
    assert told(SPREADS[0], draws="100.5") == {("/draws", "not_whole")}


# of, kind and what else, further fields, place, code, what the message says was drawn and what is allowed
BEYOND = [
    ("sleeve_transmittance", {"low": "90 %", "high": "105 %"}, {}, "high", "above_all", "94.5 %", "at most 102.262 %"),
    ("uvt", {"low": "0.1 %", "high": "100 %"}, {}, "low", "below_all", "0.091 %", "at least 1.0989 %"),
    (
        "flow",
        {"low": "5 %", "high": "100 %"},
        {"flow": "0.1 L/min"},
        "low",
        "below_all",
        "0.005 L/min",
        "at least 10 %",
    ),
    (
        "uvc_output",
        {"low": "90 %", "high": "150 %"},
        {"uvc_output": "1.5 kW"},
        "high",
        "above_all",
        "2250 W",
        "133.333 %",
    ),
    ("sleeve_transmittance", {"uncertainty": "2 %"}, {}, "uncertainty", "too_close_to_all", "92.0357 %", "1.13096 %"),
    ("uvt", {"uncertainty": "50 %"}, {"uvt": "3 %"}, "uncertainty", "too_close_to_bound", "0.3919", "at least 1 %"),
    (
        "uvc_output",
        {"uncertainty": "30 %"},
        {"uvc_output": "1 kW"},
        "uncertainty",
        "too_close_to_bound",
        "3099",
        "2000 W",
    ),
]


@pytest.mark.parametrize(("of", "item", "changed", "place", "code", "given", "allowed"), BEYOND)
def test_a_spread_outside_the_bounds_of_its_field_states_the_allowed_one(
    of, item, changed, place, code, given, allowed
):
    kind = "standard" if "uncertainty" in item else "range"
    request = {**CABIN, "flow": "9 L/min", "spreads": [SPREADS[1], {"kind": kind, "of": of, **item}], **changed}
    request["spreads"] = [one for one in request["spreads"][:1] if one["of"] != of] + request["spreads"][1:]
    with pytest.raises(RequestRefused) as refusal:
        run("uv/uncertainty", request)
    (fault,) = refusal.value.faults
    assert (fault.pointer, fault.code) == (f"/spreads/{len(request['spreads']) - 1}/{place}", code)
    assert fault.message.startswith(of)
    assert given in fault.message
    assert allowed in fault.allowed
    batch = run_batch("uv/uncertainty", {**request, of: 2 * [request.get(of, "90 %")]})
    assert [(one.pointer, one.code, one.rows) for one in batch.errors] == [(fault.pointer, code, [0, 1])]


def test_rows_whose_spread_passes_a_bound_do_not_affect_the_others():
    sleeve = {"kind": "range", "of": "sleeve_transmittance", "low": "90 %", "high": "104 %"}
    request = {**CABIN, "flow": "9 L/min", "spreads": [sleeve], "draws": "200"}
    batch = run_batch("uv/uncertainty", {**request, "sleeve_transmittance": ["85 %", "90 %"]})
    assert [(one.pointer, one.code, one.rows) for one in batch.errors] == [("/spreads/0/high", "above_all", [1])]
    alone = run("uv/uncertainty", {**request, "sleeve_transmittance": "85 %"})
    assert batch.columns["mean_dose.low"][0] == alone.mean_dose.low
