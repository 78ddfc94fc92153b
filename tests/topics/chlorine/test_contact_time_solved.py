"""Contact time solved for an omitted value, which meets the target when entered."""

import copy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assertions import codes
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from requests_contact import PATH, WHOLE, ask, faults, measured

# Forward and backward.

waters = {
    "water_temperature": st.floats(0.5, 25.0).map(lambda value: f"{value!r} degC"),
    "ph": st.floats(6.0, 9.0).map(lambda value: f"{value!r}"),
    "log_inactivation": st.floats(0.5, 3.0).map(lambda value: f"{value!r}"),
    "method": st.sampled_from(["table", "smith_1995", "epa_profiling"]),
    "interpolation": st.sampled_from(["guidance", "linear"]),
}


def with_ratio_one(request):
    """The request at a flow that brings the ratio to one exactly."""
    solved = run(PATH, {**request, "flow": None, "segments": request["segments"][:2]})
    return {**request, "flow": {"value": solved.flow, "unit": "L/min"}, "segments": request["segments"][:2]}


@settings(max_examples=60)
@given(st.fixed_dictionaries(waters), st.floats(0.45, 3.0))
def test_each_unknown_solved_and_put_back_returns_the_start(water, residual):
    start = with_ratio_one({**copy.deepcopy(WHOLE), **water, "residual": f"{residual!r} mg/L"})
    forward = run(PATH, start)
    assert forward.inactivation_ratio == pytest.approx(1.0, rel=1e-12)
    assert forward.sufficient
    assert forward.flow_to_meet == pytest.approx(forward.flow, rel=1e-12)
    assert forward.contact_time_to_meet == pytest.approx(forward.contact_time, rel=1e-12)

    without_flow = run(PATH, {**start, "flow": None})
    assert without_flow.solved_for == "flow"
    assert without_flow.flow == pytest.approx(forward.flow, rel=1e-12)

    _, pipe = start["segments"]
    without_volume = run(PATH, {**start, "segments": [{"kind": "tank", "baffling": "poor"}, pipe]})
    assert without_volume.solved_for == "volume"
    assert without_volume.segments[0].volume == pytest.approx(1000.0, rel=1e-9)

    as_time = [{"kind": "measured"}, pipe]
    without_time = run(PATH, {**start, "segments": as_time})
    assert without_time.solved_for == "contact_time"
    assert without_time.segments[0].contact_time == pytest.approx(forward.segments[0].contact_time, rel=1e-9)

    without_residual = run(PATH, {**start, "residual": None})
    assert without_residual.solved_for == "residual"
    assert without_residual.inactivation_ratio == pytest.approx(1.0, rel=1e-9)
    stepped = water["method"] == "table" and water["interpolation"] == "guidance"
    if not stepped:
        assert without_residual.residual == pytest.approx(residual, rel=1e-9)
    else:
        # Where the CT steps up just above the start, the residual safe from there on is the next row's.
        assert residual * (1.0 - 1e-9) <= without_residual.residual <= residual * 1.06


WAYS = {
    "cells": {"method": "table", "interpolation": "guidance"},
    "interpolated": {"method": "table", "interpolation": "linear"},
    "smith_1995": {"method": "smith_1995"},
    "epa_profiling": {"method": "epa_profiling"},
}
UNKNOWNS = ("residual", "flow", "volume", "contact_time")
conditions = {
    "water_temperature": st.floats(0.5, 25.0).map(lambda value: f"{value!r} degC"),
    "ph": st.floats(6.0, 9.0).map(repr),
    "log_inactivation": st.floats(0.5, 3.0).map(repr),
    "flow": st.floats(2.0, 40.0).map(lambda value: f"{value!r} L/min"),
    "residual": st.floats(0.4, 3.0).map(lambda value: f"{value!r} mg/L"),
}


def without(request, unknown):
    """The request with one value left out; a tank of its own where a volume or a time is wanted."""
    left = copy.deepcopy(request)
    if unknown in {"residual", "flow"}:
        del left[unknown]
        left["segments"] = [{"kind": "tank", "volume": "6 m3", "baffling": "average"}, left["segments"][1]]
    elif unknown == "volume":
        left["segments"][0] = {"kind": "tank", "baffling": "poor"}
    else:
        left["segments"][0] = {"kind": "measured"}
    return left


def with_solved(left, answer):
    """The same request with what was solved put in, to the last digit."""
    full = copy.deepcopy(left)
    if answer.solved_for == "residual":
        full["residual"] = f"{answer.residual!r} mg/L"
    elif answer.solved_for == "flow":
        full["flow"] = f"{answer.flow!r} L/min"
    elif answer.solved_for == "volume":
        full["segments"][0]["volume"] = f"{answer.segments[0].volume!r} L"
    else:
        full["segments"][0]["contact_time"] = f"{answer.segments[0].contact_time!r} min"
    return full


@pytest.mark.parametrize("unknown", UNKNOWNS)
@pytest.mark.parametrize("way", WAYS)
@settings(max_examples=10)
@given(water=st.fixed_dictionaries(conditions))
def test_the_solution_entered_again_meets_the_target_exactly(way, unknown, water):
    left = without({**WHOLE, **water, **WAYS[way]}, unknown)
    told = []
    try:
        backward = run(PATH, left)
    except RequestRefused as refusal:
        told = [fault.code for fault in refusal.faults]
    if told:
        # Only a residual can be beyond reach.
        assert (unknown, told) == ("residual", ["out_of_table"])
        return
    if "not_needed" in codes(backward):
        return
    if "residual_at_lowest" in codes(backward):
        # Below the table's first residual a regression is not asked: it is more than enough.
        assert backward.residual == pytest.approx(0.4, rel=1e-12)
        assert backward.inactivation_ratio > 1.0
        assert unknown == "residual"
        return
    forward = run(PATH, with_solved(left, backward))
    assert backward.solved_for == unknown
    assert forward.solved_for == "nothing"
    assert forward.sufficient
    assert forward.inactivation_ratio == pytest.approx(1.0, rel=1e-9)


def test_a_residual_solved_by_cells_is_described_as_the_lowest_safe_one():
    left = {key: value for key, value in WHOLE.items() if key != "residual"}
    for way, told in (("cells", True), ("interpolated", False), ("smith_1995", False)):
        solved = run(PATH, {**left, **WAYS[way], "log_inactivation": "0.5"})
        said = [warning.message for warning in solved.warnings if warning.code == "residual_stepwise"]
        assert bool(said) == told, way
        assert not told or "lowest residual" in said[0].lower()


def test_every_residual_above_the_solution_meets_the_target_too():
    start = {**WHOLE, "residual": None, "log_inactivation": "0.5"}
    solved = run(PATH, start).residual
    for factor in (1.0, 1.001, 1.02, 1.05, 1.1, 1.3, 2.0):
        if solved * factor <= 3.0:
            assert run(PATH, {**start, "residual": f"{solved * factor!r} mg/L"}).sufficient
    assert not run(PATH, {**start, "residual": f"{solved * 0.999!r} mg/L"}).sufficient


def test_an_unreachable_target_is_rejected():
    assert faults(residual=None, segments=measured("1 min")) == {("/residual", "out_of_table")}
    assert faults(flow=None, segments=[*measured("900 min"), {"kind": "pipe", "bore": "20 mm", "length": "9 m"}]) == {
        ("/flow", "not_needed")
    }
    enough = ask(segments=[*measured("900 min"), {"kind": "tank", "baffling": "poor"}])
    assert enough.segments[1].volume == 0
    assert "not_needed" in codes(enough)


def test_an_overflowing_solution_is_rejected_at_its_field():
    next_to_nothing = {"kind": "tank", "baffling_factor": 5e-324}
    assert faults(segments=[next_to_nothing]) == {("/segments/0/volume", "outside_method")}
    one = [{"kind": "tank", "volume": "300 gal", "baffling": "poor"}]
    assert faults(flow=None, residual="5e-321 mg/L", segments=one) == {("/flow", "outside_method")}
