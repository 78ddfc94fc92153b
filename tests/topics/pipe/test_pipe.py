"""pipe/pressure-drop, and the published values of all pipe calculations: properties, faults, warnings."""

import json
import re
from typing import get_args
from urllib.parse import parse_qsl, urlsplit

import fluids
import msgspec
import numpy as np
import pytest
from fluids.fittings import Hooper2K
from hypothesis import given, settings
from hypothesis import strategies as st

from dosewright.core.water_and_air import water
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.registry import find
from dosewright.engine.run import answer, run
from dosewright.tables import checks, table
from dosewright.tables.fittings import fittings
from dosewright.tables.pipes import pipe_materials
from dosewright.topics.pipe.contracts.pressure_drop import FittingName
from dosewright.topics.pipe.contracts.velocity import NominalSize, PipeMaterial
from requests_pipe import DROP, FOOT, GALLON_A_MINUTE, INCH, PSI, codes, refused

COPPER = {"kind": "pipe", "length": "18 m", "material": "copper_type_l", "nominal_size": "3/4"}
# An invented run from a pressure tank to a second-floor bathroom.
SEGMENTS = [
    {"kind": "pipe", "length": "6 m", "material": "pvc_schedule_40", "nominal_size": "1"},
    {"kind": "fitting", "fitting": "elbow_90", "count": "3"},
    {"kind": "device", "rated_points": [{"rated_flow": "40 L/min", "pressure_drop": "28 kPa"}]},
    {"kind": "device", "kv": "4.2"},
    COPPER,
    {"kind": "fitting", "loss_coefficient": "0.9", "count": "4"},
    {"kind": "fitting", "equivalent_length": "1.4 m"},
    {"kind": "device", "cv": "7.5"},
    {"kind": "elevation", "elevation_change": "3.2 m"},
]
RUN = {"flow": "32 L/min", "segments": SEGMENTS, "water_temperature": "9 degC", "inlet_pressure": "350 kPa"}


def drop(*segments, **changes):
    return run(DROP, {"flow": "32 L/min", "water_temperature": "9 degC", "segments": list(segments), **changes})


@pytest.mark.parametrize("row", checks("pipe"), ids=lambda row: row["id"])
def test_published_value(row):
    request = json.loads(row["inputs"])
    if row["unit"]:
        request["answer_units"] = {re.sub(r"\.\d+\.", ".", row["field"]): row["unit"]}
    value = run(row["target"], request)
    for part in row["field"].split("."):
        value = value[int(part)] if part.isdigit() else getattr(value, part)
    assert value == pytest.approx(float(row["published"]), abs=float(row["tolerance"]), rel=0)


def test_check_rows_name_source_status_and_basis():
    assert len(checks("pipe")) > 70
    for row in checks("pipe"):
        assert row["source"], row["id"]
        assert row["tolerance_basis"], row["id"]
        assert row["status"] in {"found", "memory", "computed"}, row["id"]


def test_names_in_the_contracts_are_those_of_the_tables():
    assert get_args(PipeMaterial) == tuple(pipe_materials())
    assert set(get_args(NominalSize)) == {row["nominal_size"] for row in table("pipe_dimensions").rows}
    assert set(get_args(FittingName)) == set(fittings())


class TestRun:
    def test_against_the_library(self):
        """The same run, built by hand with the reference library."""
        density, viscosity = water.density(282.15), water.dynamic_viscosity(282.15)
        flow, mass = 32 / 60000, 32 / 60000 * density
        plastic, copper = 1.049 * INCH, 0.785 * INCH

        def straight(bore, length):
            return fluids.one_phase_dP(mass, density, viscosity, bore, roughness=1.5e-6, L=length)

        def at_speed(bore, coefficient):
            speed = flow / (np.pi / 4 * bore**2)
            return fluids.core.dP_from_K(coefficient, rho=density, V=speed)

        reynolds = fluids.Reynolds(V=flow / (np.pi / 4 * plastic**2), D=plastic, rho=density, mu=viscosity)
        elbow = Hooper2K(1.049, reynolds, name="Elbow, 90°, Standard (R/D = 1), Screwed")
        expected = [
            straight(plastic, 6),
            at_speed(plastic, 3 * elbow),
            28e3 * (32 / 40) ** 2,
            at_speed(0.02, fluids.Kv_to_K(4.2, D=0.02)),
            straight(copper, 18),
            at_speed(copper, 4 * 0.9),
            straight(copper, 1.4),
            at_speed(0.02, fluids.Cv_to_K(7.5, D=0.02)),
            density * 9.80665 * 3.2,
        ]
        given = run(DROP, RUN)
        drops = [segment.pressure_drop * 1e3 for segment in given.segments]
        exact = [0, 1, 2, 4, 5, 6, 8]
        assert [drops[at] for at in exact] == pytest.approx([expected[at] for at in exact], rel=1e-11)
        # The library's flow coefficients are defined with a rounded constant and without a density.
        assert [drops[3], drops[7]] == pytest.approx([expected[3], expected[7]], rel=2e-3)
        assert given.pressure_drop == pytest.approx(sum(drops) / 1e3, rel=1e-14)
        assert given.outlet_pressure == pytest.approx(350 - sum(drops) / 1e3, rel=1e-13)

    def test_each_segment_alone_has_its_share(self):
        whole = run(DROP, RUN)
        pipes = {1: SEGMENTS[0], 5: COPPER, 6: COPPER}
        for number, (segment, told) in enumerate(zip(SEGMENTS, whole.segments, strict=True)):
            given = drop(pipes[number], segment) if number in pipes else drop(segment)
            assert given.segments[-1].pressure_drop == told.pressure_drop

    def test_fittings_sit_in_the_pipe_before_them_or_the_first_after(self):
        elbow = {"kind": "fitting", "fitting": "elbow_90"}
        wide = {**COPPER, "nominal_size": "1"}
        given = drop(elbow, wide, elbow, COPPER, elbow, {**elbow, "bore": "50 mm"})
        assert [segment.bore for segment in given.segments] == pytest.approx(
            [26.035, 26.035, 26.035, 19.939, 19.939, 50.0], rel=1e-12
        )

    def test_a_fall_adds_pressure(self):
        up, down = (drop({"kind": "elevation", "elevation_change": text}) for text in ("7 m", "-7 m"))
        assert down.pressure_drop == -up.pressure_drop < 0

    def test_count_multiplies(self):
        elbow = {"kind": "fitting", "fitting": "elbow_90"}
        one, five = drop(COPPER, elbow), drop(COPPER, {**elbow, "count": "5"})
        assert five.segments[1].pressure_drop == pytest.approx(5 * one.segments[1].pressure_drop, rel=1e-14)

    def test_entered_roughness_and_coefficient_replace_those_of_the_material(self):
        rough = drop({**COPPER, "roughness": "0.15 mm"})
        assert rough.pressure_drop > 1.2 * drop(COPPER).pressure_drop
        assert not any("roughness" in basis.method and "mm" in basis.method for basis in rough.basis)
        low = drop({**COPPER, "hazen_williams_c": "100"}, method="hazen_williams")
        ratio = low.pressure_drop / drop(COPPER, method="hazen_williams").pressure_drop
        assert ratio == pytest.approx(1.4**1.852, rel=1e-12)

    def test_hazen_williams_by_hand(self):
        given = drop(COPPER, method="hazen_williams", water_temperature="15 degC")
        head = 10.667 * 18 * (32 / 60000) ** 1.852 / (140**1.852 * (0.785 * INCH) ** 4.871)
        assert given.pressure_drop * 1e3 == pytest.approx(head * water.density(288.15) * 9.80665, rel=1e-12)
        assert given.segments[0].friction_factor is None

    @pytest.mark.parametrize("method", ["darcy_weisbach", "hazen_williams"])
    @given(st.floats(0.5, 60.0), st.floats(1.0, 90.0))
    @settings(max_examples=40)
    def test_directions(self, method, flow, temperature):
        def total(flow, segments):
            request = {"flow": f"{flow!r} L/min", "segments": segments, "water_temperature": f"{temperature!r} degC"}
            return run(DROP, {**request, "method": method}).pressure_drop

        here = total(flow, SEGMENTS)
        assert total(1.01 * flow, SEGMENTS) > here
        assert total(flow, [*SEGMENTS[:4], {**COPPER, "length": "19 m"}, *SEGMENTS[5:]]) > here
        assert total(flow, [*SEGMENTS[:4], {**COPPER, "nominal_size": "1/2"}, *SEGMENTS[5:]]) > here

    @given(st.floats(0.5, 60.0), st.floats(-5.0, 20.0))
    @settings(max_examples=40)
    def test_units_do_not_matter(self, flow, height):
        def asked(units, flow, length, height, drop):
            segments = [
                {**COPPER, "length": length},
                {"kind": "fitting", "fitting": "tee_branch", "count": 2},
                {"kind": "device", "rated_points": [{"rated_flow": flow, "pressure_drop": drop}]},
                {"kind": "elevation", "elevation_change": height},
            ]
            return run(DROP, {"units": units, "flow": flow, "segments": segments, "water_temperature": "9 degC"})

        si = asked("si", flow / 60000, 18, height, 28e3)
        metric = asked("metric", flow, 18, height, 28)
        us = asked("us", flow / 60000 / GALLON_A_MINUTE, 18 / FOOT, height / FOOT, 28e3 / PSI)
        scale = abs(si.pressure_drop) + 1e5
        assert metric.pressure_drop * 1e3 == pytest.approx(si.pressure_drop, abs=1e-12 * scale)
        assert us.pressure_drop * PSI == pytest.approx(si.pressure_drop, abs=1e-12 * scale)

    def test_colder_water_loses_more(self):
        totals = [drop(COPPER, water_temperature=f"{t} degC").pressure_drop for t in (5, 15, 40, 80)]
        assert totals == sorted(totals, reverse=True)

    @pytest.mark.parametrize("method", ["darcy_weisbach", "hazen_williams"])
    def test_batch_is_the_single_calls_bit_for_bit(self, method):
        generator = np.random.default_rng(5)
        flows = generator.uniform(0.3, 60.0, 200).tolist()
        lengths = generator.uniform(0.0, 90.0, 200).tolist()
        temperatures = generator.uniform(1.0, 95.0, 200).tolist()

        def asked(flow, length, temperature):
            segments = [*SEGMENTS[:4], {**COPPER, "length": length}, *SEGMENTS[5:]]
            request = {"flow": flow, "segments": segments, "water_temperature": temperature, "inlet_pressure": 3500}
            return {**request, "method": method, "units": "metric"}

        batch = run_batch(DROP, asked(flows, lengths, temperatures))
        assert not batch.errors
        told = {(warning.code, warning.field, warning.message): warning.rows for warning in batch.warnings}
        for row, values in enumerate(zip(flows, lengths, temperatures, strict=True)):
            one = run(DROP, asked(*values))
            for name, column in batch.columns.items():
                value = one
                for part in name.split("."):
                    value = value[int(part)] if part.isdigit() else getattr(value, part)
                assert column[row] == value or (value is None and (column[row] is None or np.isnan(column[row]))), name
            here = {key for key, rows in told.items() if rows is None or row in rows}
            assert {(warning.code, warning.field, warning.message) for warning in one.warnings} == here

    def test_columns_of_bores_and_materials(self):
        segments = [{"kind": "pipe", "length": "10 m", "bore": ["12 mm", "3 mm", "40 mm"], "roughness": "0.7 mm"}]
        batch = run_batch(DROP, {"flow": "10 L/min", "segments": segments})
        assert [(fault.pointer, fault.code, fault.rows) for fault in batch.errors] == [
            ("/segments/0/bore", "out_of_range", [1]),
            ("/segments/0/roughness", "outside_method", [0]),
        ]
        assert np.isfinite(batch["pressure_drop"]).tolist() == [False, False, True]
        materials = ["copper_type_l", "galvanized_steel_schedule_40"]
        batch = run_batch(DROP, {"flow": "10 L/min", "segments": [{**COPPER, "material": materials}]})
        for row, material in enumerate(materials):
            one = run(DROP, {"flow": "10 L/min", "segments": [{**COPPER, "material": material}]})
            assert batch["pressure_drop"][row] == one.pressure_drop

    def test_repeated_request_gives_the_same_answer(self):
        first = run(DROP, RUN)
        fields = parse_qsl(urlsplit(first.question).query)
        query = {name: value for name, value in fields if name != "segments"}
        query["segments"] = [value for name, value in fields if name == "segments"]
        again = answer(find(DROP), query, query=True)
        assert msgspec.json.encode(again) == msgspec.json.encode(first)

    def test_every_fitting_and_material_runs(self):
        for name in fittings():
            assert drop(COPPER, {"kind": "fitting", "fitting": name}).segments[1].pressure_drop > 0
        for name, material in pipe_materials().items():
            for size in material.sizes:
                for method in ("darcy_weisbach", "hazen_williams"):
                    segment = {**COPPER, "material": name, "nominal_size": size}
                    assert drop(segment, method=method).pressure_drop > 0


class TestWarningsAndBasis:
    def test_nothing_is_wrong_with_a_plain_run(self):
        given = drop(COPPER, {"kind": "fitting", "fitting": "elbow_90"})
        assert codes(given) == []
        assert {caution.code for caution in given.cautions} == {"pressure", "local_rules"}

    def test_devices_bring_the_caution_about_mains(self):
        given = drop(COPPER, {"kind": "device", "kv": "3"}, {"kind": "device", "kv": "3"})
        assert [caution.code for caution in given.cautions] == ["pressure", "local_rules", "mains_near_water"]

    def test_each_method_is_in_the_basis_once_with_its_source(self):
        given = run(DROP, RUN)
        methods = [basis.method for basis in given.basis]
        assert len(methods) == len(set(zip(methods, (basis.validity for basis in given.basis), strict=True)))
        assert all(basis.source and basis.validity for basis in given.basis)
        assert any("Hooper 1981" in basis.source for basis in given.basis)
        assert any("Moody 1944" in basis.source for basis in given.basis)

    def test_figures_from_memory_are_marked(self):
        given = drop({**COPPER, "material": "pe_sidr7"}, {"kind": "fitting", "fitting": "ball_valve_full_bore"})
        assert sum("from memory" in basis.source for basis in given.basis) >= 3

    def test_transition(self):
        given = drop(COPPER, flow="3 L/min")
        assert codes(given) == ["transition_flow"]
        assert given.segments[0].regime == "transition"

    def test_laminar_flow_is_no_transition(self):
        assert codes(drop(COPPER, flow="1 L/min")) == []
        given = drop(COPPER, {"kind": "fitting", "loss_coefficient": "1"}, flow="1 L/min")
        assert codes(given) == ["coefficient_needs_turbulent_flow"]

    def test_velocity_limit_with_its_source(self):
        given = drop(COPPER, flow="60 L/min")
        (warning,) = given.warnings
        assert (warning.code, warning.field) == ("velocity_above_limit", "segments.0.velocity")
        assert "Copper Tube Handbook" in warning.message

    def test_hazen_williams_outside_its_range(self):
        given = drop(COPPER, method="hazen_williams", water_temperature="40 degC", flow="2 L/min")
        assert set(codes(given)) == {"hazen_williams_outside_validity"}
        assert {warning.field for warning in given.warnings} == {
            "water_temperature",
            "segments.0.bore",
            "segments.0.reynolds_number",
        }
        wide = {**COPPER, "material": "steel_schedule_40", "nominal_size": "3"}
        assert codes(drop(wide, method="hazen_williams", water_temperature="15 degC", flow="200 L/min")) == []

    def test_minimum_wall(self):
        (warning,) = drop({**COPPER, "material": "pvc_schedule_40"}, flow="20 L/min").warnings
        assert warning.code == "widest_bore"
        assert "1.7 % smaller" in warning.message

    @pytest.mark.parametrize(("flow", "warned"), [("5 L/min", True), ("32 L/min", False), ("90 L/min", True)])
    def test_far_from_the_rated_flow(self, flow, warned):
        given = drop(SEGMENTS[2], flow=flow)
        assert ("far_from_rated_flow" in codes(given)) is warned

    def test_a_device_in_slow_flow(self):
        assert "device_needs_turbulent_flow" in codes(drop(COPPER, SEGMENTS[3], flow="2 L/min"))

    def test_not_enough_inlet_pressure(self):
        ample = run(DROP, {**RUN, "flow": "90 L/min", "inlet_pressure": "2 MPa"})
        inlet = ample.pressure_drop - 20.0
        given = run(DROP, {**RUN, "flow": "90 L/min", "inlet_pressure": f"{inlet!r} kPa"})
        assert given.outlet_pressure < 0
        assert "not_enough_pressure" in codes(given)
        assert run(DROP, {"flow": "9 L/min", "segments": [COPPER]}).outlet_pressure is None


@pytest.mark.parametrize(
    ("segments", "faults"),
    [
        ([], {("/segments", "out_of_range")}),
        ([{"length": "1 m"}], {("/segments/0/kind", "required")}),
        ([{"kind": "pump"}], {("/segments/0/kind", "unknown_choice")}),
        ([{"kind": "pipe", "length": "1 m"}], {("/segments/0/bore", "required")}),
        ([{**COPPER, "bore": "20 mm"}], {("/segments/0/bore", "conflicting_inputs")}),
        ([{"kind": "pipe", "length": "1 m", "bore": "20 mm"}], {("/segments/0/roughness", "required")}),
        ([{**COPPER, "length": "-1 m"}], {("/segments/0/length", "out_of_range")}),
        ([COPPER, {**COPPER, "roughness": "3 mm"}], {("/segments/1/roughness", "outside_method")}),
        ([COPPER, {"kind": "fitting"}], {("/segments/1", "required")}),
        (
            [COPPER, {"kind": "fitting", "fitting": "elbow_90", "loss_coefficient": "1"}],
            {("/segments/1/loss_coefficient", "conflicting_inputs")},
        ),
        ([COPPER, {"kind": "fitting", "fitting": "elbow_90", "count": "1.5"}], {("/segments/1/count", "not_whole")}),
        ([{"kind": "fitting", "fitting": "elbow_90"}], {("/segments/0/bore", "required")}),
        (
            [{"kind": "fitting", "equivalent_length": "1 m", "bore": "20 mm"}],
            {("/segments/0/material", "required")},
        ),
        ([COPPER, {"kind": "fitting", "fitting": "elbow_9"}], {("/segments/1/fitting", "unknown_choice")}),
        ([{"kind": "device"}], {("/segments/0", "required")}),
        ([{"kind": "device", "kv": "1", "cv": "1"}], {("/segments/0/cv", "conflicting_inputs")}),
        (
            [{"kind": "device", "rated_points": [{"rated_flow": "9 L/min"}]}],
            {("/segments/0/rated_points/0/pressure_drop", "required")},
        ),
        (
            [
                {"kind": "device", "kv": "0"},
                {"kind": "elevation", "elevation_change": "5 kPa"},
                {**COPPER, "colour": 1},
            ],
            {
                ("/segments/0/kv", "out_of_range"),
                ("/segments/1/elevation_change", "unit_wrong_dimension"),
                ("/segments/2/colour", "unknown_field"),
            },
        ),
    ],
)
def test_refused_segments(segments, faults):
    assert refused(DROP, {"flow": "9 L/min", "segments": segments}) == faults


def test_hazen_williams_needs_a_coefficient():
    bare = {"kind": "pipe", "length": "1 m", "bore": "20 mm", "roughness": "0 mm"}
    request = {"flow": "9 L/min", "segments": [bare], "method": "hazen_williams"}
    assert refused(DROP, request) == {("/segments/0/hazen_williams_c", "required")}
