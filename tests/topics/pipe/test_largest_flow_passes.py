"""The largest flow of a run, given back to the pressure drop as it was printed, passes the limit it was found for."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run

MATERIALS = st.sampled_from(["copper_type_l", "pex_sdr9", "pvc_schedule_40"])
SIZES = st.sampled_from(["1/2", "3/4", "1"])
STATES = st.sampled_from(["clean", "loaded"])
METHODS = st.sampled_from(["darcy_weisbach", "hazen_williams"])
UNITS = st.sampled_from(["gal/min", "L/min", "m3/s"])


@st.composite
def segments(draw: Any) -> list[dict[str, Any]]:
    made: list[dict[str, Any]] = []
    for _ in range(draw(st.integers(1, 4))):
        length = f"{draw(st.floats(0.5, 80.0))!r} {draw(st.sampled_from(['m', 'ft']))}"
        made.append({"kind": "pipe", "length": length, "material": draw(MATERIALS), "nominal_size": draw(SIZES)})
    if draw(st.booleans()):
        made.append({"kind": "elevation", "elevation_change": f"{draw(st.floats(-12.0, 12.0))!r} ft"})
    if draw(st.booleans()):
        flow, drop = draw(st.floats(5.0, 40.0)), draw(st.floats(1.0, 30.0))
        points = [(flow, drop), (2.0 * flow, drop * draw(st.floats(2.0, 4.0)))][: draw(st.integers(1, 2))]
        rated = [{"rated_flow": f"{one!r} L/min", "pressure_drop": f"{more!r} kPa"} for one, more in points]
        made.append({"kind": "device", "rated_points": rated, "loaded_pressure_drop": f"{5.0 * drop!r} kPa"})
    if draw(st.booleans()):
        half = {**made[0], "length": "3 m"}
        made += [{**half, "branch": "a"}, {**half, "nominal_size": "3/4", "branch": "b"}]
    return made


@st.composite
def limits(draw: Any) -> dict[str, str]:
    if draw(st.booleans()):
        return {"pressure_drop_limit": f"{draw(st.floats(0.5, 60.0))!r} psi"}
    inlet = draw(st.floats(150.0, 600.0))
    return {
        "inlet_pressure": f"{inlet!r} kPa",
        "required_outlet_pressure": f"{draw(st.floats(0.0, 0.9)) * inlet!r} kPa",
    }


@given(segments(), limits(), STATES, METHODS, UNITS)
@settings(max_examples=300, deadline=None, derandomize=True)
def test_the_largest_flow_passes_where_it_is_given_back(
    parts: list[dict[str, Any]], limit: dict[str, str], state: str, method: str, unit: str
) -> None:
    asked = {"segments": parts, **limit, "cartridges": state, "method": method}
    try:
        most = run("pipe/largest-flow", {**asked, "answer_units": {"flow": unit}})
        back = run("pipe/pressure-drop", {**asked, "flow": f"{most.flow!r} {unit}"})
        more = run("pipe/pressure-drop", {**asked, "flow": f"{most.flow * (1.0 + 1e-9)!r} {unit}"})
    except RequestRefused as refused:
        told = {fault.code for fault in refused.faults}
        assert told <= {"no_pressure_left", "flow_out_of_range", "below_vapour_pressure"}, told
        return
    assert back.within_limit is True
    assert "pressure_drop_above_limit" not in {warning.code for warning in back.warnings}
    assert more.within_limit is False


@given(segments(), METHODS)
@settings(max_examples=100, deadline=None, derandomize=True)
def test_the_flow_at_the_velocity_limit_is_not_too_fast(parts: list[dict[str, Any]], method: str) -> None:
    asked = {"segments": parts, "pressure_drop_limit": "40 psi", "method": method}
    try:
        most = run("pipe/largest-flow", asked)
    except RequestRefused:
        return
    flow = f"{most.velocity_limited_flow!r} {most.units['velocity_limited_flow']}"
    fast = {warning.code for warning in run("pipe/pressure-drop", {**asked, "flow": flow}).warnings}
    assert "velocity_above_limit" not in fast


@pytest.mark.parametrize("height", ["1 ft", "9 ft", "30 ft", "100 ft"])
def test_an_elevation_that_takes_all_the_pressure_leaves_no_flow(height: str) -> None:
    pipe = {"kind": "pipe", "length": "10 ft", "material": "copper_type_l", "nominal_size": "1/2"}
    up = {"kind": "elevation", "elevation_change": height}
    alone = run("pipe/pressure-drop", {"flow": "1 gal/min", "segments": [up]})
    limit = f"{alone.pressure_drop!r} {alone.units['pressure_drop']}"
    with pytest.raises(RequestRefused) as refused:
        run("pipe/largest-flow", {"segments": [pipe, up], "pressure_drop_limit": limit})
    assert [fault.code for fault in refused.value.faults] == ["no_pressure_left"]
