"""uv/derated-flow as a caller sees it: three methods, their steps, properties, refusals. Scenarios are invented."""

import math
from urllib.parse import parse_qsl, urlsplit

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.registry import find
from dosewright.engine.run import answer, run
from requests_uv_derated import CHAMBER, PATH, SIZES, WATER, faults

POINT = {
    "rated_flow": "40 L/min",
    "uvt": "95 %",
    "dose": "30 mJ/cm2",
    "lamp_ageing_factor": "85 %",
    "sleeve_fouling_factor": "100 %",
}
DIM_POINT = {**POINT, "rated_flow": "19 L/min", "uvt": "75 %", "lamp_ageing_factor": "90 %"}
MIDDLE_POINT = {**POINT, "rated_flow": "27 L/min", "uvt": "85 %"}
ONE = {**SIZES, **WATER, "rated_points": [POINT]}
SEVERAL = {**WATER, "rated_points": [DIM_POINT, POINT, MIDDLE_POINT]}
METHODS = pytest.mark.parametrize(
    "request_", [CHAMBER, ONE, SEVERAL], ids=["chamber", "one_rated_point", "rated_points"]
)


def fields(given, code):
    return {warning.field for warning in given.warnings if warning.code == code}


def factor(given, name):
    (step,) = [step for step in given.steps if step.name == name]
    return step.factor


@METHODS
def test_steps_multiply_to_the_derated_flow(request_):
    answered = run(PATH, request_)
    flow = answered.steps[0].flow
    assert answered.steps[0].factor == 1.0
    for step in answered.steps[1:]:
        flow *= step.factor
        assert step.flow == pytest.approx(flow, rel=1e-13)
    assert answered.derated_flow == answered.steps[-1].flow
    assert factor(answered, "safety") == pytest.approx(1.0 / 1.25, rel=1e-15)
    known = request_ is not CHAMBER
    sure = answered.flow_lower_bound
    assert sure < answered.derated_flow
    assert answered.flow_margin == (pytest.approx(sure - 18.0, abs=1e-12) if known else None)
    assert answered.covers_peak_flow is (bool(sure >= 18.0) if known else None)


def test_between_rated_points_the_next_darker_one_decides():
    """20 L/min at 75 % and 45 at 95 %: at 85 % the darker row supports only 20, by hand."""
    full = {"dose": "40 mJ/cm2", "lamp_ageing_factor": "80 %", "sleeve_fouling_factor": "90 %"}
    points = [{**full, "rated_flow": "20 L/min", "uvt": "75 %"}, {**full, "rated_flow": "45 L/min", "uvt": "95 %"}]
    water = {"lamp_ageing_factor": "80 %", "sleeve_fouling_factor": "90 %", "target_dose": "40 mJ/cm2"}
    request = {**water, "rated_points": points, "uvt": "85 %"}
    given = run(PATH, {**request, "peak_flow": "24 L/min"})
    assert given.derated_flow == pytest.approx(28.3, abs=0.05)
    assert given.flow_lower_bound == pytest.approx(20.0, rel=1e-12)
    assert given.covers_peak_flow is False
    assert given.flow_margin == pytest.approx(-4.0, rel=1e-11)
    assert fields(given, "peak_between_bounds") == {"flow_lower_bound"}
    assert not fields(given, "calculated_not_validated")
    assert run(PATH, {**request, "peak_flow": "19.9 L/min"}).covers_peak_flow is True
    short = run(PATH, {**request, "peak_flow": "29 L/min"})
    assert "peak_flow_not_covered" in codes(short)
    assert "peak_between_bounds" not in codes(short)
    # Target, factors and safety scale it as they do the derated flow: 20 x 40/50 x 70/80 x 80/90 / 1.25.
    scaled = {"target_dose": "50 mJ/cm2", "lamp_ageing_factor": "70 %", "sleeve_fouling_factor": "80 %"}
    other = run(PATH, {**request, **scaled, "safety_factor": "1.25", "units_in_parallel": "2"})
    assert other.flow_lower_bound == pytest.approx(2.0 * 20.0 * 0.8 * 0.875 * (8.0 / 9.0) / 1.25, rel=1e-12)


@pytest.mark.parametrize(("uvt", "row"), [("75 %", DIM_POINT), ("85 %", MIDDLE_POINT), ("95 %", POINT)])
def test_in_the_water_of_a_rated_point_the_bound_is_its_own_flow(uvt, row):
    held = {name: row[name] for name in ("lamp_ageing_factor", "sleeve_fouling_factor")}
    answered = run(PATH, {**SEVERAL, **held, "uvt": uvt, "target_dose": "30 mJ/cm2", "safety_factor": "1"})
    assert answered.flow_lower_bound == pytest.approx(float(row["rated_flow"].split()[0]), rel=1e-12)
    assert answered.flow_lower_bound <= answered.derated_flow


def test_the_lower_bound_of_one_rated_point_decides():
    """Independent route: the bounds of the chamber alone, in both waters, give the same share."""
    given = run(PATH, {**ONE, "safety_factor": "1"})
    here, there = (run(PATH, {**CHAMBER, "uvt": uvt}) for uvt in (ONE["uvt"], ONE["rated_points"][0]["uvt"]))
    share = (here.flow_lower_bound / there.flow_lower_bound) / (here.derated_flow / there.derated_flow)
    assert share < 1.0
    assert given.flow_lower_bound == pytest.approx(given.derated_flow * share, rel=1e-6)
    between = 0.5 * (given.flow_lower_bound + given.derated_flow)
    answered = run(PATH, {**ONE, "safety_factor": "1", "peak_flow": f"{between!r} L/min"})
    assert answered.covers_peak_flow is False
    assert "peak_between_bounds" in codes(answered)


@METHODS
def test_answer_has_its_method(request_):
    names = {0: "chamber", 1: "one_rated_point", 3: "rated_points"}
    assert run(PATH, request_).method == names[len(request_.get("rated_points", []))]


def test_chamber_flow_delivers_the_target_dose():
    """uv/dose at the derated flow times the safety factor gives the target dose."""
    series = {"hydraulics": "tanks_in_series", "tanks": "3", "inactivation_rate": "0.12 cm2/mJ"}
    for extra in ({"hydraulics": "plug_flow"}, series):
        for model in ("refracted_line", "line_source"):
            derated = run(PATH, {**CHAMBER, **extra, "field_model": model})
            asked = {**CHAMBER, **extra, "field_model": model, "flow": f"{derated.derated_flow * 1.25!r} L/min"}
            del asked["safety_factor"], asked["peak_flow"]
            assert run("uv/dose", asked).reduction_equivalent_dose == pytest.approx(40.0, rel=1e-9)


def test_hydraulics_are_a_separate_step():
    plug = run(PATH, {**CHAMBER, "hydraulics": "plug_flow"})
    series = {"hydraulics": "tanks_in_series", "tanks": "2", "inactivation_rate": "0.1 cm2/mJ"}
    tanks = run(PATH, {**CHAMBER, **series})
    assert factor(plug, "hydraulics") == 1.0
    needed = 2.0 / 0.1 * (math.exp(0.1 * 40.0 / 2.0) - 1.0)
    assert factor(tanks, "hydraulics") == pytest.approx(40.0 / needed, rel=1e-12)
    assert tanks.derated_flow == pytest.approx(plug.derated_flow * 40.0 / needed, rel=1e-12)
    assert "hydraulics_not_named" in codes(run(PATH, CHAMBER))
    assert "hydraulics_not_named" not in codes(tanks)


def test_chamber_starts_in_clear_water():
    answered = run(PATH, CHAMBER)
    clear = run(PATH, {**CHAMBER, "uvt": "100 %", "safety_factor": "1"} | {"lamp_ageing_factor": "100 %"})
    assert factor(clear, "water") == 1.0
    assert answered.steps[0].flow == clear.steps[0].flow
    assert factor(answered, "lamp_ageing") == pytest.approx(0.82, rel=1e-15)
    assert factor(answered, "sleeve_fouling") == pytest.approx(0.88, rel=1e-15)


def test_one_rated_point_by_hand():
    answered = run(PATH, ONE)
    assert answered.steps[0].flow == pytest.approx(40.0, rel=1e-14)
    assert factor(answered, "target_dose") == pytest.approx(30.0 / 40.0, rel=1e-14)
    assert factor(answered, "lamp_ageing") == pytest.approx(0.82 / 0.85, rel=1e-14)
    assert factor(answered, "sleeve_fouling") == pytest.approx(0.88, rel=1e-14)
    asked, rated = (
        run("uv/dose", {**SIZES, "uvt": uvt, "uvc_output": "13 W", "flow": "10 L/min"}) for uvt in ("86 %", "95 %")
    )
    assert factor(answered, "water") == pytest.approx(asked.mean_fluence_rate / rated.mean_fluence_rate, rel=1e-9)


@METHODS
def test_the_rated_condition_gives_the_rated_flow(request_):
    points = request_.get("rated_points")
    if points is None:
        return
    for point in points:
        same = {name: point[name] for name in ("uvt", "lamp_ageing_factor", "sleeve_fouling_factor")}
        asked = {**request_, **same, "target_dose": point["dose"], "safety_factor": "1"}
        assert run(PATH, asked).derated_flow == pytest.approx(float(point["rated_flow"].split()[0]), rel=1e-12)


def test_between_points_by_hand():
    answered = run(PATH, {**SEVERAL, "uvt": "80 %"})
    dim, middle = 30.0 * 19.0 / 0.90, 30.0 * 27.0 / 0.85
    ends, here = [math.log10(1 / 0.85), math.log10(1 / 0.75)], math.log10(1 / 0.80)
    along = (here - ends[0]) / (ends[1] - ends[0])
    product = 1.0 / ((1.0 - along) / middle + along / dim)
    assert answered.derated_flow == pytest.approx(product * 0.82 * 0.88 / 40.0 / 1.25, rel=1e-12)
    assert answered.steps[0].flow == pytest.approx(27.0, rel=1e-14)
    assert factor(answered, "water") == pytest.approx(product / middle, rel=1e-12)
    turned = {**SEVERAL, "uvt": "80 %", "rated_points": SEVERAL["rated_points"][::-1]}
    assert run(PATH, turned).derated_flow == answered.derated_flow


def test_points_from_the_chamber_model_are_slightly_underestimated():
    """Between two points from the chamber model, the chord is within -6 to +0.5 % of that model."""
    bare = {**SIZES, "uvc_output": "13 W", "hydraulics": "plug_flow"}
    full = {"lamp_ageing_factor": "100 %", "sleeve_fouling_factor": "100 %"}
    points = []
    for uvt in ("70 %", "95 %"):
        flow = run(PATH, {**bare, **full, "uvt": uvt}).derated_flow
        points.append({"rated_flow": f"{flow!r} L/min", "uvt": uvt, "dose": "40 mJ/cm2", **full})
    for uvt in ("74 %", "80 %", "86 %", "92 %"):
        drawn = run(PATH, {"rated_points": points, "uvt": uvt, **full}).derated_flow
        exact = run(PATH, {**bare, **full, "uvt": uvt}).derated_flow
        assert -0.06 < drawn / exact - 1.0 < 0.005


UNITS = {
    "uvt": "%",
    "lamp_ageing_factor": "%",
    "sleeve_fouling_factor": "%",
    "target_dose": "mJ/cm2",
    "safety_factor": "",
}
RANGES = {
    "uvt": (76.0, 94.0, 1),
    "lamp_ageing_factor": (10.0, 100.0, 1),
    "sleeve_fouling_factor": (10.0, 100.0, 1),
    "target_dose": (1.0, 200.0, -1),
    "safety_factor": (1.0, 9.0, -1),
}


@METHODS
@settings(max_examples=40)
@given(st.sampled_from(sorted(RANGES)), st.floats(0.0, 0.98), st.floats(0.005, 0.02))
def test_every_factor_acts_the_right_way(request_, name, place, step):
    low, high, sign = RANGES[name]
    flows = [
        run(PATH, {**request_, name: f"{low + part * (high - low)!r} {UNITS[name]}"}).derated_flow
        for part in (place, place + step)
    ]
    assert (flows[1] - flows[0]) * sign > 0.0


@METHODS
def test_one_request_in_three_profiles(request_):
    flows = [
        run(PATH, {**request_, "units": profile, "answer_units": {"derated_flow": "m3/s"}}).derated_flow
        for profile in ("us", "metric", "si")
    ]
    assert flows == pytest.approx([flows[0]] * 3, rel=1e-12)


@METHODS
def test_batch_equals_single_bit_for_bit(request_):
    draw = np.random.default_rng(9)
    rows = 40
    columns = {
        "uvt": [f"{value!r} %" for value in draw.uniform(75.1, 94.9, rows).tolist()],
        "lamp_ageing_factor": [f"{value!r} %" for value in draw.uniform(50, 100, rows).tolist()],
        "target_dose": [f"{value!r} mJ/cm2" for value in draw.uniform(15, 60, rows).tolist()],
        "peak_flow": [f"{value!r} L/min" for value in draw.uniform(5, 40, rows).tolist()],
    }
    request = {**request_, **columns}
    if "rated_points" in request_:
        flows = [f"{value!r} L/min" for value in draw.uniform(38, 60, rows).tolist()]
        points = [{**point} for point in request_["rated_points"]]
        clearest = max(range(len(points)), key=lambda index: points[index]["uvt"])
        points[clearest]["rated_flow"] = flows
        request["rated_points"] = points
    together = run_batch(PATH, request)
    assert not together.errors
    for row in range(rows):
        single_request = {**request_, **{name: values[row] for name, values in columns.items()}}
        if "rated_points" in request_:
            single_request["rated_points"] = [
                {name: value[row] if isinstance(value, list) else value for name, value in point.items()}
                for point in points
            ]
        single = run(PATH, single_request)
        assert single.derated_flow == together["derated_flow"][row]
        bound = together["flow_lower_bound"][row]
        assert np.isnan(bound) if single.flow_lower_bound is None else single.flow_lower_bound == bound
        room = together["flow_margin"][row]
        assert np.isnan(room) if single.flow_margin is None else single.flow_margin == room
        assert single.covers_peak_flow == together["covers_peak_flow"][row]
        for index, step in enumerate(single.steps):
            assert step.factor == together[f"steps.{index}.factor"][row]
            assert step.flow == together[f"steps.{index}.flow"][row]
        warned = {(w.code, w.field) for w in together.warnings if w.rows is None or row in w.rows}
        assert warned == {(w.code, w.field) for w in single.warnings}


@METHODS
def test_repeated_request_gives_the_same_answer(request_):
    first = run(PATH, request_)
    assert first.question is not None
    query = {}
    for name, value in parse_qsl(urlsplit(first.question).query):
        query.setdefault(name, []).append(value)
    again = answer(find(PATH), {n: v if n == "rated_points" else v[0] for n, v in query.items()}, query=True)
    assert msgspec.json.encode(again) == msgspec.json.encode(first)


def test_a_rated_point_needs_flow_dose_and_uvt():
    bare = {name: POINT[name] for name in ("rated_flow", "uvt", "dose")}
    answered = run(PATH, {**ONE, "rated_points": [bare]})
    assert factor(answered, "lamp_ageing") == pytest.approx(0.82 / 0.80, rel=1e-14)
    assert factor(answered, "sleeve_fouling") == pytest.approx(0.88, rel=1e-14)
    assert faults({**ONE, "rated_points": [{"rated_flow": POINT["rated_flow"]}]}) == {
        ("/rated_points/0/uvt", "required"),
        ("/rated_points/0/dose", "required"),
    }


def test_missing_fields_depend_on_the_method():
    assert faults(WATER) == {
        (f"/{name}", "required")
        for name in ("chamber_bore", "sleeve_outer_diameter", "arc_length", "chamber_length", "uvc_output")
    }
    one = {name: value for name, value in ONE.items() if name not in {"arc_length", "chamber_bore"}}
    assert run(PATH, one).method == "data_sheet"


def test_points_that_contradict_are_refused():
    twice = {**SEVERAL, "rated_points": [POINT, {**POINT, "rated_flow": "44 L/min"}, DIM_POINT]}
    assert faults(twice) == {("/rated_points/1/dose", "rated_points_contradict")}
    rising = {**SEVERAL, "rated_points": [POINT, {**DIM_POINT, "rated_flow": "60 L/min"}]}
    assert faults(rising) == {("/rated_points/1/rated_flow", "rated_points_contradict")}
    held = {**SEVERAL, "rated_points": [POINT, {**DIM_POINT, "lamp_ageing_factor": "30 %"}]}
    assert ("/rated_points/1/rated_flow", "rated_points_contradict") in faults(held)


def test_batch_rows_outside_the_points_are_answered_by_their_own_method():
    given_ = run_batch(PATH, {**SEVERAL, "uvt": ["80 %", "60 %", "99 %"]})
    assert not given_.errors
    assert list(given_["method"]) == ["rated_points", "data_sheet", "rated_points"]
    for row, uvt in enumerate(("80 %", "60 %", "99 %")):
        assert given_["flow_lower_bound"][row] == run(PATH, {**SEVERAL, "uvt": uvt}).flow_lower_bound
    assert given_["flow_lower_bound"][1] < given_["flow_lower_bound"][0] < given_["flow_lower_bound"][2]


def test_impossible_chambers_are_refused():
    assert faults({**ONE, "sleeve_outer_diameter": "80 mm"}) == {("/sleeve_outer_diameter", "chamber_impossible")}
    assert faults({**CHAMBER, "chamber_length": "500 mm"}) == {("/chamber_length", "chamber_too_short")}
    assert faults({**CHAMBER, "sleeve_transmittance": "95 %"}) == {("/sleeve_transmittance", "sleeve_impossible")}
    assert faults({**CHAMBER, "safety_factor": "0.8"}) == {("/safety_factor", "out_of_range")}


def test_scaling_one_point_to_much_darker_water_gives_a_warning():
    dark = {**ONE, "uvt": "30 %"}
    assert fields(run(PATH, dark), "scaled_to_darker_water") == {"uvt"}
    assert "scaled_to_darker_water" not in codes(run(PATH, ONE))
    together = run_batch(PATH, {**ONE, "uvt": ["95 %", "30 %", "86 %", "40 %"]})
    (told,) = (warning for warning in together.warnings if warning.code == "scaled_to_darker_water")
    assert told.rows == [1, 3]
    # By the other method, and unmixed streamlines: the remaining flow is less than by the mean.
    laminar = {**CHAMBER, "hydraulics": "laminar", "inactivation_rate": "0.1 cm2/mJ"}
    left = run(PATH, {**laminar, "uvt": "30 %"}).derated_flow / run(PATH, {**laminar, "uvt": "95 %"}).derated_flow
    (share,) = (step.factor for step in run(PATH, dark).steps if step.name == "water")
    assert left < 0.8 * share


# 76 mm about 23 mm leave 41.2 cm² and, on 600 mm, 2.47 L: 10 m/s at 2473 L/min, 0.1 s at 1484 L/min.
@pytest.mark.parametrize(
    ("flow", "warned"),
    [
        ("1470 L/min", set()),
        ("1500 L/min", {"rated_residence_time_too_short"}),
        ("2460 L/min", {"rated_residence_time_too_short"}),
        ("2490 L/min", {"rated_residence_time_too_short", "rated_flow_too_fast"}),
    ],
)
def test_rated_flow_too_high_for_the_chamber_gives_a_warning(flow, warned):
    answered = run(PATH, {**ONE, "rated_points": [{**POINT, "rated_flow": flow}]})
    assert codes(answered) & {"rated_flow_too_fast", "rated_residence_time_too_short"} == warned
    for code in warned:
        assert fields(answered, code) == {"rated_points.0.rated_flow"}


def test_scaling_up_gives_a_warning():
    down = run(PATH, ONE)
    assert not codes(down) & {"scaled_to_clearer_water", "above_rated_factor", "above_rated_flow"}
    up = run(PATH, {**ONE, "uvt": "98 %", "lamp_ageing_factor": "100 %", "target_dose": "20 mJ/cm2"})
    assert {"scaled_to_clearer_water", "above_rated_factor", "above_rated_flow"} <= codes(up)
    assert fields(up, "above_rated_factor") == {"lamp_ageing_factor"}
    between = run(PATH, {**SEVERAL, "lamp_ageing_factor": "88 %", "sleeve_fouling_factor": "100 %"})
    assert fields(between, "above_rated_factor") == {"lamp_ageing_factor"}


def test_peak_flow():
    short = run(PATH, {**CHAMBER, "peak_flow": "500 L/min"})
    assert short.covers_peak_flow is False
    assert short.flow_margin is None  # no hydraulics
    assert "peak_flow_not_covered" in codes(short)
    covered = run(PATH, {**ONE, "peak_flow": "1 L/min"})
    assert covered.covers_peak_flow is True
    assert fields(covered, "calculated_not_validated") == {"covers_peak_flow"}
    assert not fields(run(PATH, {**ONE, "peak_flow": "500 L/min"}), "calculated_not_validated")
    unasked = run(PATH, {name: value for name, value in CHAMBER.items() if name != "peak_flow"})
    assert unasked.covers_peak_flow is None
    assert unasked.flow_margin is None


def test_unused_fields_give_a_warning():
    one = run(PATH, {**ONE, "uvc_output": "13 W", "hydraulics": "plug_flow"})
    assert fields(one, "not_used") == {"uvc_output", "hydraulics"}
    several = run(PATH, {**SEVERAL, "chamber_bore": "76 mm"})
    assert fields(several, "not_used") == {"chamber_bore"}
    assert not fields(run(PATH, SEVERAL), "not_used")


@METHODS
def test_cautions_and_basis(request_):
    answered = run(PATH, request_)
    assert {"uvc_eyes_skin", "mains_near_water", "pressure", "lamp_mercury", "local_rules"} == {
        caution.code for caution in answered.cautions
    }
    assert any("never validated" in b.validity or "never a validated" in b.validity for b in answered.basis)
    plain = run(PATH, {**request_, "field_model": "line_source"})
    assert ("line_source_error" in codes(plain)) is ("chamber_bore" in request_)
