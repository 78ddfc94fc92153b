"""Whole runs: branches, device curves, cartridges, limits and sizes, the grade line, and the largest flow."""

import re
from urllib.parse import parse_qsl, urlsplit

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import answer, run
from dosewright.present.views import chart_of
from dosewright.tables.pipes import pipe_materials

DROP, LARGEST = "pipe/pressure-drop", "pipe/largest-flow"
MAIN = {"kind": "pipe", "length": "10 m", "bore": "26.04 mm", "roughness": "0.0015 mm", "hazen_williams_c": "145"}
NARROW = {**MAIN, "bore": "19.94 mm"}
# The two-branch network of the computed reference: U1 and U2 side by side between two lengths of main.
NETWORK = [
    MAIN,
    {**NARROW, "length": "2 m", "branch": "a"},
    {"kind": "fitting", "loss_coefficient": "6", "branch": "a"},
    {**NARROW, "length": "3 m", "branch": "b"},
    {"kind": "fitting", "loss_coefficient": "9", "branch": "b"},
    MAIN,
]
# Invented: a cartridge housing, clean 5 and 18 kPa, loaded 60 kPa at the first rated flow.
HOUSING = {
    "kind": "device",
    "rated_points": [
        {"rated_flow": "20 L/min", "pressure_drop": "5 kPa"},
        {"rated_flow": "45 L/min", "pressure_drop": "18 kPa"},
    ],
    "loaded_pressure_drop": "60 kPa",
}
COPPER = {"kind": "pipe", "length": "18 m", "material": "copper_type_l", "nominal_size": "3/4"}
UP = {"kind": "elevation", "elevation_change": "12 m"}
DOWN = {"kind": "elevation", "elevation_change": "-20 m"}

MATERIALS = st.sampled_from(["copper_type_l", "pex_sdr9", "pvc_schedule_40"])
STATES = st.sampled_from(["clean", "loaded"])
METHODS = st.sampled_from(["darcy_weisbach", "hazen_williams"])


def drop(*segments, **changes):
    return run(DROP, {"flow": "32 L/min", "water_temperature": "9 degC", "segments": list(segments), **changes})


def device(*points):
    rated = [{"rated_flow": f"{flow} L/min", "pressure_drop": f"{drop} kPa"} for flow, drop in points]
    return {"kind": "device", "rated_points": rated}


def codes(given):
    return [warning.code for warning in given.warnings]


def refused(path, **request):
    with pytest.raises(RequestRefused) as refusal:
        run(path, request)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}


class TestBranches:
    @pytest.mark.parametrize(
        ("method", "head", "first", "second", "tolerance"),
        [("hazen_williams", 1.68222, 0.330991, 0.269009, 3e-4), ("darcy_weisbach", 1.67464, 0.331497, 0.268503, 5e-3)],
    )
    def test_against_a_network_solver(self, method, head, first, second, tolerance):
        # Computed with EPANET 2.2 through wntr 1.5.0; under Darcy-Weisbach it uses Swamee and Jain's factor, and a
        # viscosity of 1.0219e-6 m²/s, that of water at 19.2 degC.
        given = drop(*NETWORK, method=method, flow="0.6 L/s", water_temperature="19.2 degC", units="si")
        density = run(
            DROP,
            {
                "flow": "0.6 L/s",
                "water_temperature": "19.2 degC",
                "units": "si",
                "segments": [{"kind": "elevation", "elevation_change": "1 m"}],
            },
        ).pressure_drop
        assert given.pressure_drop / density == pytest.approx(head, rel=tolerance)
        assert given.segments[1].flow == pytest.approx(first / 1000, rel=tolerance)
        assert given.segments[3].flow == pytest.approx(second / 1000, rel=tolerance)

    def test_branches_have_equal_loss_and_the_group_is_added_once(self):
        given = drop(*NETWORK)
        part = [segment.pressure_drop for segment in given.segments]
        assert part[1] + part[2] == pytest.approx(part[3] + part[4], rel=1e-12)
        assert given.pressure_drop == pytest.approx(part[0] + part[1] + part[2] + part[5], rel=1e-14)
        assert given.segments[1].flow + given.segments[3].flow == pytest.approx(32, rel=1e-13)
        assert given.segments[0].flow is None

    def test_two_units_side_by_side_lose_a_quarter(self):
        unit = {"kind": "device", "rated_points": [{"rated_flow": "40 L/min", "pressure_drop": "28 kPa"}]}
        one = drop(unit)
        two = drop({**unit, "branch": "a"}, {**unit, "branch": "b"})
        assert two.pressure_drop == pytest.approx(one.pressure_drop / 4, rel=1e-12)

    def test_a_fitting_in_a_branch_sits_in_the_pipe_of_its_branch(self):
        elbow = {"kind": "fitting", "fitting": "elbow_90"}
        given = drop(MAIN, {**elbow, "branch": "a"}, {**NARROW, "branch": "b"}, {**elbow, "branch": "b"}, elbow)
        assert [segment.bore for segment in given.segments] == pytest.approx([26.04, 26.04, 19.94, 19.94, 26.04])

    def test_a_segment_without_a_branch_separates_groups(self):
        level = {"kind": "elevation", "elevation_change": "0 m"}
        pair = NETWORK[1:5]
        twice = drop(MAIN, *pair, level, *pair)
        once = drop(MAIN, *pair)
        alone = drop(MAIN)
        assert twice.pressure_drop - once.pressure_drop == pytest.approx(
            once.pressure_drop - alone.pressure_drop, rel=1e-12
        )

    def test_refusals(self):
        up = {"kind": "elevation", "elevation_change": "2 m", "branch": "a"}
        ask = {"flow": "32 L/min"}
        assert refused(DROP, **ask, segments=[MAIN, {**NARROW, "branch": "a"}]) == {("/segments/1/branch", "required")}
        assert refused(DROP, **ask, segments=[{**NARROW, "branch": "a"}, up, {**NARROW, "branch": "b"}]) == {
            ("/segments/0/branch", "contradiction")
        }
        still = {**NARROW, "length": "0 m"}
        assert refused(DROP, **ask, segments=[{**still, "branch": "a"}, {**NARROW, "branch": "b"}]) == {
            ("/segments", "no_split")
        }

    def test_batch_is_the_single_calls_bit_for_bit(self):
        flows = np.geomspace(0.2, 80.0, 60).tolist()
        heights = np.linspace(-2.0, 3.0, 60).tolist()
        request = {"units": "metric", "inlet_pressure": 1200, "required_outlet_pressure": 100}

        def segments(height):
            return [
                *NETWORK,
                {**HOUSING, "branch": "a"},
                {**HOUSING, "branch": "b"},
                HOUSING,
                COPPER,
                {"kind": "elevation", "elevation_change": height},
            ]

        batch = run_batch(DROP, {**request, "flow": flows, "segments": segments(heights)})
        back = run_batch(LARGEST, {**request, "segments": segments(heights)})
        assert not batch.errors
        assert not back.errors
        for row, (flow, height) in enumerate(zip(flows, heights, strict=True)):
            for columns, one in (
                (batch.columns, run(DROP, {**request, "flow": flow, "segments": segments(height)})),
                (back.columns, run(LARGEST, {**request, "segments": segments(height)})),
            ):
                for name, column in columns.items():
                    value = one
                    for part in name.split("."):
                        value = value[int(part)] if part.isdigit() else getattr(value, part)
                    same = column[row] == value
                    assert same or (value is None and (column[row] is None or np.isnan(column[row]))), (row, name)


class TestDevices:
    def test_points_are_fitted_and_the_error_is_in_the_answer(self):
        points = [(10, 2.0), (20, 6.5), (40, 20.0)]
        given = drop(device(*points), flow="20 L/min").segments[0]
        exponent = np.log(20.0 / 2.0) / np.log(4.0)  # equal steps in log flow: the ends alone set the slope
        assert given.flow_exponent == pytest.approx(exponent, rel=1e-12)
        fitted = np.exp(np.log([2.0, 6.5, 20.0]).mean())
        assert given.pressure_drop == pytest.approx(fitted, rel=1e-12)
        ends = np.abs(fitted * np.array([0.5, 1.0, 2.0]) ** exponent / [2.0, 6.5, 20.0] - 1).max()
        assert given.fit_error == pytest.approx(100 * ends, rel=1e-9)

    def test_warnings_of_a_fit(self):
        bed = device((20, 5), (45, 90))
        assert set(codes(drop(bed, flow="60 L/min"))) == {"outside_rated_points", "unusual_exponent"}
        assert codes(drop(HOUSING)) == []
        assert "poor_fit" in codes(drop(device((20, 5), (45, 18), (60, 60))))

    def test_loaded_and_clean(self):
        clean, loaded = drop(HOUSING, COPPER), drop(HOUSING, COPPER, cartridges="loaded")
        assert loaded.segments[0].pressure_drop == pytest.approx(12 * clean.segments[0].pressure_drop, rel=1e-13)
        assert clean.loaded_pressure_drop == pytest.approx(loaded.pressure_drop, rel=1e-13)
        assert loaded.loaded_pressure_drop == loaded.pressure_drop
        assert drop(COPPER).loaded_pressure_drop is None

    def test_when_a_cartridge_must_be_changed(self):
        free = drop(HOUSING, COPPER)
        loaded = 12 * free.segments[0].pressure_drop
        assert free.segments[0].change_at_pressure_drop == pytest.approx(loaded, rel=1e-12)
        tight = drop(HOUSING, COPPER, inlet_pressure="250 kPa", required_outlet_pressure="150 kPa")
        at = tight.segments[0].change_at_pressure_drop
        assert tight.segments[0].pressure_drop < at < loaded
        assert at + tight.segments[1].pressure_drop == pytest.approx(100, rel=1e-12)
        assert "change_early" in codes(tight)
        never = drop(HOUSING, COPPER, pressure_drop_limit="20 kPa")
        assert never.segments[0].change_at_pressure_drop is None
        assert {"no_room_to_load", "pressure_drop_above_limit"} <= set(codes(never))

    def test_refusals(self):
        def of(**changes):
            segment = {name: value for name, value in {**HOUSING, **changes}.items() if value is not None}
            return refused(DROP, flow="32 L/min", segments=[segment])

        at = "/segments/0"
        half = [*HOUSING["rated_points"], {"pressure_drop": "30 kPa"}]
        assert of(rated_points=half) == {(f"{at}/rated_points/2/rated_flow", "required")}
        assert of(rated_points=None) == {(at, "required"), (f"{at}/rated_points", "required")}
        assert of(rated_points=[]) == {(f"{at}/rated_points", "out_of_range")}
        contradict = {(f"{at}/rated_points/1/rated_flow", "rated_points_contradict")}
        for points in (((20, 5), (20, 18)), ((20, 5), (45, 3))):
            assert of(**device(*points)) == contradict
        flat = (f"{at}/rated_points/0/pressure_drop", "rated_points_contradict")
        assert of(**device((20, 0), (45, 18))) >= {flat}
        assert of(loaded_pressure_drop="4 kPa") == {(f"{at}/loaded_pressure_drop", "contradiction")}
        assert of(kv="3") == {(f"{at}/rated_points", "conflicting_inputs")}
        kv = {"kind": "device", "kv": "3", "loaded_pressure_drop": "20 kPa"}
        assert refused(DROP, flow="32 L/min", segments=[kv]) == {(f"{at}/rated_points", "required")}


class TestGradeLine:
    def test_pressures_step_down_to_the_outlet(self):
        run_of = [COPPER, HOUSING, {"kind": "elevation", "elevation_change": "3 m"}, COPPER]
        given = drop(*run_of, inlet_pressure="300 kPa")
        here = 300.0
        for segment in given.segments:
            here -= segment.pressure_drop
            assert segment.pressure == pytest.approx(here, rel=1e-13)
        assert given.segments[-1].pressure == pytest.approx(given.outlet_pressure, rel=1e-13)
        assert [segment.distance for segment in given.segments] == pytest.approx([18, 18, 18, 36])
        assert [segment.elevation for segment in given.segments] == pytest.approx([0, 0, 3, 3])
        assert drop(*run_of).segments[0].pressure is None

    def test_branches_meet_at_one_pressure(self):
        given = drop(*NETWORK, inlet_pressure="300 kPa").segments
        assert given[2].pressure == pytest.approx(given[4].pressure, rel=1e-12)
        assert given[5].distance == pytest.approx(10 + 3 + 10)

    def test_largest_loss(self):
        given = drop(HOUSING, COPPER, {"kind": "elevation", "elevation_change": "30 m"})
        assert given.largest_loss_segment == "segments.1"
        lost = [segment.pressure_drop for segment in given.segments[:2]]
        assert given.largest_loss_share == pytest.approx(100 * lost[1] / sum(lost), rel=1e-12)
        nothing = drop({"kind": "elevation", "elevation_change": "3 m"})
        assert (nothing.largest_loss_segment, nothing.largest_loss_share) == (None, None)


class TestLimits:
    @given(
        st.floats(3.0, 150.0), st.floats(8.0, 90.0), st.sampled_from(["copper_type_l", "pex_sdr9", "pvc_schedule_40"])
    )
    @settings(max_examples=40)
    def test_smallest_size_is_the_first_within_the_limit(self, limit, flow, material):
        pipe = {**COPPER, "material": material}
        elbow = {"kind": "fitting", "fitting": "elbow_90", "count": "4"}
        ask = {"flow": f"{flow!r} L/min", "pressure_drop_limit": f"{limit!r} kPa"}
        told = drop(pipe, elbow, HOUSING, **ask).smallest_nominal_size
        first = None
        for size in pipe_materials()[material].sizes:
            one = drop({**pipe, "nominal_size": size}, elbow, HOUSING, **ask)
            if one.within_limit and "velocity_above_limit" not in codes(one):
                first = size
                break
        assert told == first

    def test_within_limit(self):
        assert drop(COPPER).within_limit is None
        assert drop(COPPER, pressure_drop_limit="100 kPa").within_limit is True
        tight = drop(COPPER, pressure_drop_limit="100 kPa", inlet_pressure="90 kPa", required_outlet_pressure="80 kPa")
        assert tight.within_limit is False
        assert "pressure_drop_above_limit" in codes(tight)

    def test_refusals(self):
        assert refused(DROP, flow="9 L/min", segments=[COPPER], required_outlet_pressure="1 bar") == {
            ("/inlet_pressure", "required")
        }


class TestLargestFlow:
    @given(
        st.floats(5.0, 900.0),
        st.sampled_from(["clean", "loaded"]),
        st.sampled_from(["darcy_weisbach", "hazen_williams"]),
    )
    @settings(max_examples=60)
    def test_inverts_the_pressure_drop(self, limit, cartridges, method):
        ask = {"segments": [*NETWORK, HOUSING, {"kind": "elevation", "elevation_change": "-1 m"}]}
        ask |= {"cartridges": cartridges, "method": method, "pressure_drop_limit": f"{limit!r} kPa"}
        given = run(LARGEST, ask)
        assert given.pressure_drop == pytest.approx(limit, rel=1e-11)
        back = run(DROP, {**ask, "flow": f"{given.flow!r} L/min"})
        assert back.pressure_drop == pytest.approx(limit, rel=1e-10)
        for one, other in zip(given.segments, back.segments, strict=True):
            assert one.pressure_drop == pytest.approx(other.pressure_drop, rel=1e-9)

    def test_inlet_and_outlet_are_a_limit(self):
        one = run(LARGEST, {"segments": [COPPER], "inlet_pressure": "3 bar", "required_outlet_pressure": "1 bar"})
        two = run(LARGEST, {"segments": [COPPER], "pressure_drop_limit": "200 kPa"})
        assert one.flow == pytest.approx(two.flow, rel=1e-12)
        assert one.outlet_pressure == pytest.approx(100, rel=1e-11)

    def test_velocity_limit(self):
        given = run(LARGEST, {"segments": [COPPER, NETWORK[1], NETWORK[3]], "pressure_drop_limit": "2 bar"})
        bore = pipe_materials()["copper_type_l"].sizes["3/4"].bore
        assert given.velocity_limited_flow == pytest.approx(2.4384 * np.pi / 4 * bore**2 * 60000, rel=1e-11)
        alone = run(LARGEST, {"segments": [HOUSING], "pressure_drop_limit": "2 bar"})
        assert alone.velocity_limited_flow is None

    def test_refusals(self):
        hill = {"kind": "elevation", "elevation_change": "30 m"}
        assert refused(LARGEST, segments=[COPPER]) == {("/pressure_drop_limit", "required")}
        assert refused(LARGEST, segments=[COPPER, hill], pressure_drop_limit="2 bar") == {
            ("/segments", "no_pressure_left")
        }
        assert refused(LARGEST, segments=[{**COPPER, "length": "0 m"}], pressure_drop_limit="2 bar") == {
            ("/segments", "flow_out_of_range")
        }

    def test_invalid_rows_do_not_affect_the_others(self):
        hill = {"kind": "elevation", "elevation_change": ["1 m", "30 m", "2 m"]}
        batch = run_batch(LARGEST, {"segments": [COPPER, hill], "pressure_drop_limit": "2 bar"})
        assert [(fault.code, fault.rows) for fault in batch.errors] == [("no_pressure_left", [1])]
        assert np.isfinite(batch["flow"]).tolist() == [True, False, True]

    def test_repeated_request_gives_the_same_answer(self):
        first = run(LARGEST, dict(find(LARGEST).example))
        fields = parse_qsl(urlsplit(first.question).query)
        query = {name: value for name, value in fields if name != "segments"}
        query["segments"] = [value for name, value in fields if name == "segments"]
        again = answer(find(LARGEST), query, query=True)
        assert msgspec.json.encode(again) == msgspec.json.encode(first)


class TestGradeLinePicture:
    def test_a_branch_in_separate_segments_continues_where_it_ended(self):
        a, b = {**NARROW, "branch": "a"}, {**NARROW, "length": "7 m", "branch": "b"}
        fitting = {"kind": "fitting", "loss_coefficient": "3", "branch": "a"}
        turns = drop(MAIN, a, b, fitting, MAIN, inlet_pressure="300 kPa")
        line = chart_of(turns).lines[0]
        drawn = [pressure for pressure in line.y.tolist() if not np.isnan(pressure)]
        told = [segment.pressure for segment in turns.segments]
        main = told[0]
        assert drawn == pytest.approx([300, main, told[1], main, told[2], told[1], told[3], told[4]], rel=1e-12)


class TestSuction:
    def told(self, given):
        return [warning.field for warning in given.warnings if warning.code == "below_air_pressure"]

    def test_a_summit_above_the_inlet_pressure_gives_a_warning_at_its_lowest_pressure(self):
        hill = [COPPER, UP, COPPER, DOWN]
        answer_ = drop(*hill, inlet_pressure="115 kPa")
        assert self.told(answer_) == ["segments.2.pressure"]
        assert answer_.outlet_pressure > 0.0
        assert self.told(drop(*hill, inlet_pressure="300 kPa")) == []
        assert self.told(drop(*hill)) == []
        level = run(LARGEST, {"segments": hill, "inlet_pressure": "115 kPa", "required_outlet_pressure": "100 kPa"})
        assert self.told(level) == ["segments.2.pressure"]

    def test_a_run_with_suction_at_its_end_gives_a_warning_there(self):
        answer_ = drop(COPPER, UP, inlet_pressure="50 kPa")
        assert "not_enough_pressure" in codes(answer_)
        assert self.told(answer_) == ["segments.1.pressure"]

    @pytest.mark.parametrize("ulps", [-4, -1, 0, 1, 4])
    def test_a_pressure_drop_equal_to_the_inlet_pressure_is_too_much_despite_rounding(self, ulps):
        taken = drop(COPPER, UP, inlet_pressure="300 kPa").pressure_drop
        inlet = taken * (1.0 + ulps * 2.0**-52)
        assert "not_enough_pressure" in codes(drop(COPPER, UP, inlet_pressure=f"{inlet!r} kPa"))
        assert "not_enough_pressure" not in codes(drop(COPPER, UP, inlet_pressure=f"{1.0001 * taken!r} kPa"))

    def test_a_pressure_within_rounding_of_zero_gives_no_warning(self):
        level = drop(UP, DOWN, inlet_pressure="300 kPa").segments[0].pressure_drop
        assert self.told(drop(UP, DOWN, inlet_pressure=f"{level!r} kPa")) == []

    def test_a_flow_that_breaks_the_water_column_is_refused_with_the_largest_possible_flow(self):
        request = {"segments": [UP, COPPER, DOWN], "inlet_pressure": "30 kPa", "flow": "60 L/min"}
        with pytest.raises(RequestRefused) as refusal:
            run(DROP, request)
        (fault,) = refusal.value.faults
        assert (fault.pointer, fault.code) == ("/segments", "below_vapour_pressure")
        most = float(re.search(r"largest possible flow is ([0-9.]+) L/min", fault.message)[1])
        just = run(DROP, {**request, "flow": f"{0.99 * most!r} L/min"})
        # Water at 10 degC boils at 1.2 kPa (IAPWS), 100.1 kPa below atmospheric.
        assert min(one.pressure for one in just.segments) == pytest.approx(1.228 - 101.325, abs=2.0)

    def test_loaded_cartridges_are_refused_before_their_pressure_is_shown(self):
        filter_ = {"kind": "device", "rated_points": [{"rated_flow": "20 L/min", "pressure_drop": "5 kPa"}]}
        request = {"segments": [{**filter_, "loaded_pressure_drop": "150 kPa"}, COPPER], "inlet_pressure": "150 kPa"}
        fine = run(DROP, {**request, "flow": "15 L/min"})
        assert fine.loaded_outlet_pressure < fine.outlet_pressure
        with pytest.raises(RequestRefused, match="with loaded cartridges") as refusal:
            run(DROP, {**request, "flow": "40 L/min", "units": "us"})
        (fault,) = refusal.value.faults
        most = float(re.search(r"largest possible flow is ([0-9.]+) gal/min", fault.message)[1])
        assert run(DROP, {**request, "flow": f"{most!r} gal/min"}).loaded_outlet_pressure > -101.325

    def test_rows_that_break_the_column_state_a_flow_possible_in_each(self):
        rows = run_batch(
            DROP,
            {"segments": [UP, COPPER, DOWN], "inlet_pressure": ["30 kPa", "20 kPa", "300 kPa"], "flow": "60 L/min"},
        )
        (fault,) = rows.errors
        assert (fault.code, fault.rows) == ("below_vapour_pressure", [0, 1])
        most = float(re.search(r"largest possible flow is ([0-9.]+) L/min", fault.message)[1])
        for pressure in ("30 kPa", "20 kPa"):
            run(DROP, {"segments": [UP, COPPER, DOWN], "inlet_pressure": pressure, "flow": f"{most!r} L/min"})

    def test_no_smallest_size_breaks_the_column(self):
        request = {"segments": [UP, COPPER, DOWN], "inlet_pressure": "50 kPa", "flow": "20 L/min"}
        wide = run(DROP, {**request, "pressure_drop_limit": "500 kPa"})
        name = wide.smallest_nominal_size
        assert name is not None
        again = [{**one, "nominal_size": name} if one.get("nominal_size") else one for one in request["segments"]]
        assert min(one.pressure for one in run(DROP, {**request, "segments": again}).segments) > -101.325

    def test_each_row_of_a_batch_has_its_own_warning(self):
        flows = {"value": [5.0, 32.0, 20.0], "unit": "L/min"}
        pressures = {"value": [300.0, 115.0, 100.0], "unit": "kPa"}
        request = {"flow": flows, "inlet_pressure": pressures, "segments": [UP, COPPER, DOWN]}
        together = run_batch(DROP, request)
        (warning,) = (one for one in together.warnings if one.code == "below_air_pressure")
        assert (warning.field, warning.rows) == ("segments.1.pressure", [1, 2])
