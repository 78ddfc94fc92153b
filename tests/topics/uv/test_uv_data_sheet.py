"""uv/derated-flow from a data sheet alone: the interval over water layers, its lower bound, and what decides it."""

from __future__ import annotations

import csv
import io
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asgi import get
from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.run import run
from dosewright.tables import table
from dosewright_sdk import InProcess
from requests_uv_derated import PATH, faults

POINT = {"rated_flow": "12 gal/min", "dose": "40 mJ/cm2", "uvt": "95 %"}
LOW_DOSE = {"rated_flow": "30 gal/min", "dose": "16 mJ/cm2", "uvt": "95 %"}
DARK = {"rated_flow": "7 gal/min", "dose": "40 mJ/cm2", "uvt": "80 %"}
HELD = {"lamp_ageing_factor": "80 %", "sleeve_fouling_factor": "100 %"}
SHEET: dict[str, Any] = {"units": "us", "rated_points": [POINT], "uvt": "87 %", **HELD, "target_dose": "40 mJ/cm2"}

# Flow relative to the one rated at 95 %, by layers of 10 to 50 mm, to two digits; computed for Dosewright.
LAYERS = (10, 20, 30, 40, 50)
SHARES = {
    90: (0.97, 0.94, 0.92, 0.89, 0.87),
    85: (0.94, 0.89, 0.84, 0.80, 0.76),
    80: (0.91, 0.83, 0.77, 0.71, 0.66),
    75: (0.88, 0.78, 0.70, 0.63, 0.57),
}
N_AIR, N_QUARTZ, N_WATER, WALL = 1.0003, 1.5055, 1.3757, 1.5e-3
DRAWS = 4000
WITHIN = 1e-4  # arcs and lengths between the worst ones that are calculated


def passed(cosine_1: Any, cosine_2: Any, n_1: float, n_2: float) -> Any:
    """Share of unpolarised light through one face, by Fresnel."""
    s = ((n_1 * cosine_1 - n_2 * cosine_2) / (n_1 * cosine_1 + n_2 * cosine_2)) ** 2
    p = ((n_1 * cosine_2 - n_2 * cosine_1) / (n_1 * cosine_2 + n_2 * cosine_1)) ** 2
    return 1.0 - 0.5 * (s + p)


def light_in_layer(uvt: float, layer: float) -> float:
    """Light path in the water of an endless lamp on the axis: one sum over the angle of its rays to the axis.

    No code or formula of the service: each ray stays in a plane with the axis, so only the layer counts.
    """
    along = (np.arange(DRAWS) + 0.5) / DRAWS  # cosine to the axis of isotropic light
    absorption = -math.log(uvt) / 0.01
    cosines = [np.sqrt(1.0 - (along * N_AIR / n) ** 2) for n in (N_AIR, N_QUARTZ, N_WATER)]
    faces = passed(cosines[0], cosines[1], N_AIR, N_QUARTZ) * passed(cosines[1], cosines[2], N_QUARTZ, N_WATER)
    dry = passed(1.0, 1.0, N_AIR, N_QUARTZ) ** 2
    quartz = (0.9 / dry) ** (1.0 / cosines[1])
    path = layer / cosines[2]
    return float(np.mean(faces * quartz * -np.expm1(-absorption * path) / absorption))


def lower_of(request: dict[str, Any]) -> float:
    return run(PATH, request).flow_lower_bound


@pytest.mark.parametrize("uvt", sorted(SHARES))
@pytest.mark.parametrize("number", range(5))
def test_the_flow_in_darker_water_by_the_layer(uvt: int, number: int) -> None:
    layer = LAYERS[number]
    by_hand = light_in_layer(uvt / 100.0, layer / 1e3) / light_in_layer(0.95, layer / 1e3)
    assert by_hand == pytest.approx(SHARES[uvt][number], abs=0.0065)
    for sleeve in ("20 mm", "25 mm", "30 mm"):
        for arc in ("10 in", "23 in"):
            sizes = {"water_layer": f"{layer} mm", "sleeve_outer_diameter": sleeve, "arc_length": arc}
            answered = run(PATH, {**SHEET, **sizes, "chamber_length": arc, "uvt": f"{uvt} %"})
            share = answered.derated_flow / 12.0
            assert share == pytest.approx(SHARES[uvt][number], abs=0.0125)
            assert share == pytest.approx(by_hand, abs=0.0085)


def test_an_unknown_chamber_gives_an_interval_whose_lower_bound_decides() -> None:
    given_ = run(PATH, {**SHEET, "peak_flow": "9.6 gal/min"})
    assert given_.method == "data_sheet"
    assert given_.flow_lower_bound < 9.6 < given_.derated_flow
    assert given_.covers_peak_flow is False
    assert given_.flow_margin == pytest.approx(given_.flow_lower_bound - 9.6, abs=1e-12)
    assert {"water_layer_assumed", "water_layer_decides", "rated_ageing_assumed"} <= codes(given_)
    # 2 in tube with a 2 mm wall and a 30 mm sleeve; 4 in tube with a 1.2 mm wall and a 20 mm sleeve.
    assert given_.least_water_layer * 25.4 == pytest.approx((50.8 - 4.0 - 30.0) / 2.0)
    assert given_.most_water_layer * 25.4 == pytest.approx((101.6 - 2.4 - 20.0) / 2.0)
    by_name = {step.name: step.factor for step in given_.lower_bound_steps}
    product = given_.derated_flow * math.prod(by_name.values())
    assert product == pytest.approx(given_.flow_lower_bound, rel=1e-12)
    assert by_name["water_layer"] < 1.0
    assert by_name["mixing"] < 1.0
    assert [b.source for b in given_.basis if "uv_chambers" in b.source and "no source" in b.source]
    narrower = run(PATH, {**SHEET, "outside_diameter": "3.5 in"})
    assert given_.flow_lower_bound < narrower.flow_lower_bound
    assert narrower.derated_flow < given_.derated_flow
    measured = run(PATH, {**SHEET, "outside_diameter": "3.5 in", "water_layer": "30 mm"})
    assert narrower.flow_lower_bound < measured.flow_lower_bound
    assert measured.derated_flow < narrower.derated_flow
    assert not codes(measured) & {"water_layer_assumed", "water_layer_decides"}


def test_the_layer_that_decides_is_the_turning_point() -> None:
    peak = {"peak_flow": "9.6 gal/min"}
    (told,) = (one.message for one in run(PATH, {**SHEET, **peak}).warnings if one.code == "water_layer_decides")
    assert "assumed water layer of 40 mm decides" in told
    passing = int(told.partition("; ")[2].split()[0])
    assert 9 < passing < 39
    assert run(PATH, {**SHEET, **peak, "water_layer": f"{passing} mm"}).covers_peak_flow is True
    assert run(PATH, {**SHEET, **peak, "water_layer": f"{passing + 1} mm"}).covers_peak_flow is False
    hopeless = run(PATH, {**SHEET, "peak_flow": "11.9 gal/min"})
    assert hopeless.covers_peak_flow is False
    assert "water_layer_decides" not in codes(hopeless)


KNOWN = ("chamber_bore", "sleeve_outer_diameter", "arc_length", "chamber_length")


@settings(max_examples=120, deadline=None)
@given(
    sleeve=st.floats(20.0, 30.0),
    wall=st.floats(1.2, 2.0),
    outside=st.floats(50.8, 101.6),
    arc=st.floats(212.0, 1470.0),
    over=st.floats(1.0, 2.0),
    uvt=st.floats(30.0, 99.0),
    optics=st.sampled_from(
        [{}, {"wall_reflectance": "25 %"}, {"field_model": "cosine_segments"}, {"sleeve_transmittance": "70 %"}]
    ),
    points=st.sampled_from([[POINT], [POINT, LOW_DOSE], [POINT, DARK]]),
)
def test_the_interval_contains_every_chamber_in_the_range(
    sleeve: float, wall: float, outside: float, arc: float, over: float, uvt: float, optics: Any, points: Any
) -> None:
    request = {**SHEET, **optics, "rated_points": points, "uvt": f"{uvt!r} %"}
    bore = outside - 2.0 * wall
    values = zip(KNOWN, (bore, sleeve, arc, arc * over), strict=True)
    exact = run(PATH, {**request, **{name: f"{value!r} mm" for name, value in values}})
    layer, length = f"{0.5 * (bore - sleeve)!r} mm", f"{arc * over * 1.1!r} mm"
    known: list[dict[str, str]] = [{}, {"outside_diameter": f"{outside!r} mm"}, {"water_layer": layer}]
    known += [{"chamber_bore": f"{bore!r} mm"}, {"outside_diameter": f"{outside!r} mm", "outside_length": length}]
    known += [{"sleeve_outer_diameter": f"{sleeve!r} mm", "chamber_bore": f"{bore!r} mm"}]
    for sizes in known:
        interval = run(PATH, {**request, **sizes})
        assert interval.flow_lower_bound <= exact.flow_lower_bound * (1.0 + WITHIN), sizes
        assert exact.derated_flow <= interval.derated_flow * (1.0 + WITHIN), sizes
        assert interval.flow_lower_bound <= interval.derated_flow


WORSE = {
    "water_layer": (2.0, 100.0, "mm"),
    "outside_diameter": (45.0, 300.0, "mm"),
    "uvt": (100.0, 5.0, "%"),
    "sleeve_fouling_factor": (100.0, 10.0, "%"),
    "lamp_ageing_factor": (100.0, 10.0, "%"),
    "target_dose": (5.0, 200.0, "mJ/cm2"),
}


@settings(max_examples=200, deadline=None)
@given(
    name=st.sampled_from(sorted(WORSE)),
    ends=st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)),
    points=st.sampled_from(
        [[POINT], [LOW_DOSE, POINT], [POINT, DARK], [{**POINT, "lamp_ageing_factor": "50 %"}, DARK]]
    ),
)
def test_a_worse_input_never_gives_a_larger_flow(name: str, ends: tuple[float, float], points: Any) -> None:
    better, worse, unit = WORSE[name]
    first, second = (
        run(PATH, {**SHEET, "rated_points": points, name: f"{better + place * (worse - better)!r} {unit}"})
        for place in sorted(ends)
    )
    for field in ("derated_flow", "flow_lower_bound"):
        assert getattr(second, field) <= getattr(first, field) * (1.0 + 1e-9), field


def test_several_doses_at_one_uvt_are_one_point() -> None:
    alone, both = run(PATH, SHEET), run(PATH, {**SHEET, "rated_points": [POINT, LOW_DOSE]})
    assert both.flow_lower_bound == pytest.approx(alone.flow_lower_bound, rel=1e-12)
    assert both.derated_flow == pytest.approx(alone.derated_flow, rel=1e-12)
    # 31 x 16 = 496 is 480 within the rounding of 31, 16 and 40; the smaller product counts.
    near = {**LOW_DOSE, "rated_flow": "31 gal/min"}
    assert lower_of({**SHEET, "rated_points": [near, POINT]}) == pytest.approx(alone.flow_lower_bound, rel=1e-12)
    # 36 x 16 = 576 is not: half digits allow 480 x (0.5/12 + 0.5/40) + 576 x (0.5/36 + 0.5/16) = 52.
    for flow, contradicts in (("33 gal/min", False), ("36 gal/min", True), ("26 gal/min", True)):
        request = {**SHEET, "rated_points": [POINT, {**LOW_DOSE, "rated_flow": flow}]}
        found = faults(request) if contradicts else set()
        assert found == ({("/rated_points/1/dose", "rated_points_contradict")} if contradicts else set())
        assert contradicts or lower_of(request) > 0.0
    # More digits leave less room: 12.00 and 40.0 by 31.00 and 16.00.
    exact = [{**POINT, "rated_flow": "12.01 gal/min", "dose": "40.01 mJ/cm2"}]
    exact.append({**LOW_DOSE, "rated_flow": "31.01 gal/min", "dose": "16.01 mJ/cm2"})
    assert faults({**SHEET, "rated_points": exact}) == {("/rated_points/1/dose", "rated_points_contradict")}


def test_clearer_than_every_point_credits_the_rated_flow_and_no_more() -> None:
    for points in ([POINT], [POINT, DARK]):
        at, above = (run(PATH, {**SHEET, "rated_points": points, "uvt": uvt}) for uvt in ("95 %", "99 %"))
        for field in ("derated_flow", "flow_lower_bound"):
            assert getattr(at, field) == pytest.approx(12.0, rel=1e-12)
            assert getattr(above, field) == pytest.approx(12.0, rel=1e-12)
        assert "scaled_to_clearer_water" in codes(above)
        assert "scaled_to_clearer_water" not in codes(at)


def test_darker_than_every_point_goes_on_from_the_darkest() -> None:
    at = run(PATH, {**SHEET, "rated_points": [POINT, DARK], "uvt": "80 %"})
    below = run(PATH, {**SHEET, "rated_points": [POINT, DARK], "uvt": "79.999 %"})
    alone = run(PATH, {**SHEET, "rated_points": [DARK], "uvt": "70 %"})
    both = run(PATH, {**SHEET, "rated_points": [POINT, DARK], "uvt": "70 %"})
    assert at.flow_lower_bound == pytest.approx(7.0, rel=1e-12)
    assert below.flow_lower_bound == pytest.approx(7.0, rel=1e-3)
    assert (at.method, below.method) == ("rated_points", "data_sheet")
    assert both.flow_lower_bound == pytest.approx(alone.flow_lower_bound, rel=1e-12)
    assert both.derated_flow == pytest.approx(alone.derated_flow, rel=1e-12)


def test_no_lower_bound_above_the_rated_flow_or_with_better_factors() -> None:
    held = {**POINT, **HELD, "sleeve_fouling_factor": "90 %"}
    request = {**SHEET, "rated_points": [held], "uvt": "95 %"}
    for better in ({"lamp_ageing_factor": "100 %"}, {"sleeve_fouling_factor": "100 %"}, {"target_dose": "20 mJ/cm2"}):
        answered = run(PATH, {**request, **better})
        assert answered.derated_flow > 12.0
        assert answered.flow_lower_bound <= 12.0 * (1.0 + 1e-12)
    lower_dose = {**request, "rated_points": [held, {**LOW_DOSE, **HELD, "sleeve_fouling_factor": "90 %"}]}
    assert lower_of({**lower_dose, "target_dose": "20 mJ/cm2"}) == pytest.approx(24.0 * 1.0, rel=1e-9)
    assert lower_of({**lower_dose, "target_dose": "10 mJ/cm2"}) == pytest.approx(30.0, rel=1e-12)
    assert lower_of({**lower_dose, "target_dose": "10 mJ/cm2", "units_in_parallel": 2}) == pytest.approx(60.0)


def test_the_age_of_a_rated_point_is_assumed_with_a_warning() -> None:
    silent, end, new = (
        run(PATH, {**SHEET, "rated_points": [{**POINT, **age}]})
        for age in ({}, {"lamp_ageing_factor": "80 %"}, {"lamp_ageing_factor": "100 %"})
    )
    assert silent.flow_lower_bound == end.flow_lower_bound
    assert new.flow_lower_bound == pytest.approx(0.8 * end.flow_lower_bound, rel=1e-12)
    assert [one.field for one in silent.warnings if one.code == "rated_ageing_assumed"] == [
        "rated_points.0.lamp_ageing_factor"
    ]
    assert "rated_ageing_assumed" not in codes(end)


def test_the_lamp_power_checks_the_points_and_changes_nothing() -> None:
    plain, small, real = (run(PATH, {**SHEET, **lamp}) for lamp in ({}, {"lamp_power": "10 W"}, {"lamp_power": "40 W"}))
    assert plain.flow_lower_bound == small.flow_lower_bound == real.flow_lower_bound
    assert "rated_point_impossible" in codes(small)
    assert "rated_point_impossible" not in codes(real)


def test_all_faults_of_a_data_sheet_at_once() -> None:
    sizes = {"outside_diameter": "30 mm", "chamber_bore": "40 mm", "water_layer": "30 mm"}
    lengths = {"outside_length": "300 mm", "arc_length": "400 mm", "sleeve_wall": "12 mm"}
    points = [POINT, {**LOW_DOSE, "rated_flow": "50 gal/min"}, {**DARK, "rated_flow": "20 gal/min"}]
    assert faults({**SHEET, **sizes, **lengths, "rated_points": points}) == {
        ("/water_layer", "more_than_one"),
        ("/outside_diameter", "chamber_impossible"),
        ("/outside_length", "chamber_impossible"),
        ("/sleeve_wall", "sleeve_impossible"),
        ("/rated_points/1/dose", "rated_points_contradict"),
        ("/rated_points/2/rated_flow", "rated_points_contradict"),
    }
    assert faults({**SHEET, "outside_diameter": "21 mm"}) == {("/outside_diameter", "chamber_impossible")}
    assert faults({**SHEET, "chamber_bore": "19 mm"}) == {("/chamber_bore", "chamber_impossible")}
    bare = [{"rated_flow": "12 gal/min"}]
    assert faults({**SHEET, "rated_points": bare}) == {
        ("/rated_points/0/uvt", "required"),
        ("/rated_points/0/dose", "required"),
    }


@pytest.mark.parametrize("points", [[POINT], [POINT, LOW_DOSE], [DARK, POINT]], ids=["one", "two doses", "two UVTs"])
def test_batch_equals_single_bit_for_bit(points: Any) -> None:
    draw = np.random.default_rng(14)
    rows = 60
    columns: dict[str, Any] = {
        "uvt": [f"{value!r} %" for value in [*draw.uniform(60.0, 99.0, rows - 2).tolist(), 95.0, 80.0]],
        "outside_diameter": [f"{value!r} mm" for value in draw.uniform(55.0, 130.0, rows).tolist()],
        "peak_flow": [f"{value!r} gal/min" for value in draw.uniform(4.0, 12.0, rows).tolist()],
    }
    together = run_batch(PATH, {**SHEET, "rated_points": points, **columns})
    assert not together.errors
    seen: set[str] = set()
    for row in range(rows):
        single = run(PATH, {**SHEET, "rated_points": points, **{name: one[row] for name, one in columns.items()}})
        for name in ("derated_flow", "flow_lower_bound", "flow_margin"):
            assert getattr(single, name) == together[name][row]
        for name in ("least_water_layer", "most_water_layer"):
            column = together.columns.get(name)
            value = math.nan if column is None or column[row] is None else column[row]
            assert getattr(single, name) == value or (getattr(single, name) is None and math.isnan(value))
        assert single.covers_peak_flow == together["covers_peak_flow"][row]
        assert single.method == together["method"][row]
        for steps in ("steps", "lower_bound_steps"):
            for index, step in enumerate(getattr(single, steps)):
                assert (step.factor, step.flow) == tuple(
                    together[f"{steps}.{index}.{n}"][row] for n in ("factor", "flow")
                )
        told = {(one.code, one.message) for one in together.warnings if one.rows is None or row in one.rows}
        assert told == {(one.code, one.message) for one in single.warnings}
        seen |= codes(single)
    assert {"water_layer_assumed", "scaled_to_clearer_water"} <= seen
    assert "water_layer_decides" in seen or DARK in points


def test_query_cell_and_client_agree() -> None:
    request = {**SHEET, "outside_diameter": "3.5 in"}
    flat = "rated_points=rated_flow:12 gal/min;dose:40 mJ/cm2;uvt:95 %&uvt=87 %&outside_diameter=3.5 in&units=us"
    flat += "&lamp_ageing_factor=80 %&sleeve_fouling_factor=100 %"
    escaped = flat.replace("%", "%25").replace(" ", "%20").replace("/", "%2F")
    wanted = lower_of(request)
    cell = get(f"/v1/{PATH}?{escaped}&pick=flow_lower_bound").body.decode()
    assert float(cell.split()[0]) == wanted
    rows = list(csv.reader(io.StringIO(get(f"/v1/{PATH}?{escaped}&format=csv").body.decode())))
    assert any("flow_lower_bound" in cell for row in rows for cell in row)
    sdk = InProcess().uv.derated_flow(
        **{name: value for name, value in request.items() if name != "rated_points"}, rated_points=[POINT]
    )
    assert sdk.flow_lower_bound == wanted


def test_every_size_of_the_table_is_marked() -> None:
    for row in table("uv_chambers").rows:
        assert float(row["low"]) < float(row["high"])
        assert "no source" in row["source"]
        assert row["status"] in {"memory", "computed"}
