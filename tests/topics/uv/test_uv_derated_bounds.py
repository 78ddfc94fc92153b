"""uv/derated-flow without hydraulics, in series and with unreachable targets: bounds, and no verdict."""

import pytest

from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from requests_uv_derated import CHAMBER, PATH, faults


def test_without_hydraulics_both_bounds_of_the_flow_and_no_verdict():
    rate = {"inactivation_rate": "0.12 cm2/mJ"}
    units = {"units_in_parallel": "2", "units_in_series": "3"}
    bare = run(PATH, {**CHAMBER, **units})
    known = run(PATH, {**CHAMBER, **rate, **units})
    laminar = run(PATH, {**CHAMBER, **rate, **units, "hydraulics": "laminar"})
    plug = run(PATH, {**CHAMBER, **units, "hydraulics": "plug_flow"})
    assert known.flow_lower_bound == pytest.approx(laminar.derated_flow, rel=1e-9)
    assert known.derated_flow == bare.derated_flow == plug.derated_flow
    assert bare.flow_lower_bound < known.flow_lower_bound < bare.derated_flow
    # Without an organism no streamline of a unit receives less than its third of the target.
    flow = bare.flow_lower_bound * 1.25 / 2.0
    spread = run("uv/dose", {**_unit(CHAMBER), "flow": f"{flow!r} L/min", "distribution": True}).dose_distribution
    assert spread.least == pytest.approx(40.0 / 3.0, rel=2e-3)
    assert laminar.flow_lower_bound is None
    middle = 0.5 * (known.flow_lower_bound + known.derated_flow)
    for peak, code in ((middle, "peak_between_bounds"), (0.9 * known.flow_lower_bound, None)):
        asked = run(PATH, {**CHAMBER, **rate, **units, "peak_flow": f"{peak} L/min"})
        assert asked.covers_peak_flow is None
        assert ("peak_between_bounds" in codes(asked)) is (code is not None)
    over = run(PATH, {**CHAMBER, **rate, **units, "peak_flow": f"{1.01 * known.derated_flow} L/min"})
    assert over.covers_peak_flow is False
    assert "peak_flow_not_covered" in codes(over)


OF_FLOWS = {"safety_factor", "peak_flow"}


def _unit(request):
    return {name: value for name, value in request.items() if name not in OF_FLOWS}


def test_uneven_units_in_series_need_a_response_whose_reds_add():
    shoulder = {"kind": "multi_target", "rate": "0.2 cm2/mJ", "targets": 20}
    series = {**CHAMBER, "units_in_series": "2", "dose_response": shoulder}
    assert faults({**series, "hydraulics": "laminar"}) == {("/units_in_series", "not_supported")}
    tanks = {"hydraulics": "tanks_in_series", "tanks": "3"}
    assert faults({**series, **tanks}) == {("/units_in_series", "not_supported")}
    run(PATH, {**series, "hydraulics": "laminar", "units_in_series": "1"})
    run(PATH, {**series, **tanks, "units_in_series": "1"})
    run(PATH, {**series, "hydraulics": "plug_flow"})
    # For the bound, the lowest doses add up.
    without = {name: value for name, value in series.items() if name != "dose_response"}
    assert run(PATH, series).flow_lower_bound == run(PATH, without).flow_lower_bound


def test_a_target_unreachable_with_a_floor_or_few_tanks_is_refused():
    floored = {"kind": "first_order", "rate": "0.3 cm2/mJ", "floor": 0.001}
    tanks = {**CHAMBER, "hydraulics": "tanks_in_series", "dose_response": floored}
    assert faults({**tanks, "tanks": "0.8"}) == {("/dose_response", "red_undefined")}
    for path in ("uv/derating-curve", "uv/limits"):
        flow = {"flow": "9 L/min"} if path == "uv/limits" else {}
        with pytest.raises(RequestRefused) as refusal:
            run(path, {**{name: tanks[name] for name in tanks if name not in OF_FLOWS}, **flow, "tanks": "0.8"})
        assert {(one.pointer, one.code) for one in refusal.value.faults} == {("/dose_response", "red_undefined")}
    assert run(PATH, {**tanks, "tanks": "3"}).derated_flow > 0.0


def test_rows_without_hydraulics_have_the_bounds_of_single_calls():
    rows = {"uvt": ["70 %", "91 %"], "units_in_series": [1, 2], "peak_flow": ["5 L/min", "500 L/min"]}
    shoulder = {"kind": "multi_target", "rate": "0.2 cm2/mJ", "targets": 20}
    for extra in ({}, {"inactivation_rate": "0.12 cm2/mJ"}, {"dose_response": shoulder}):
        together = run_batch(PATH, {**CHAMBER, **extra, **rows}).columns
        for row in range(2):
            single = run(PATH, {**CHAMBER, **extra, **{name: values[row] for name, values in rows.items()}})
            assert together["flow_lower_bound"][row] == single.flow_lower_bound
            assert together["covers_peak_flow"][row] is single.covers_peak_flow
