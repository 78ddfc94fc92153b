"""Velocity in a pipe: its limit, its regime, and the smallest size within the limit."""

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core.water_and_air import water
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright.tables.pipes import pipe_materials
from requests_pipe import FOOT, GALLON_A_MINUTE, INCH, VELOCITY, codes, refused


class TestVelocity:
    def test_by_hand(self):
        given = run(VELOCITY, {"flow": "9 gal/min", "material": "copper_type_l", "nominal_size": "3/4"})
        bore = 0.785 * INCH
        speed = 9 * GALLON_A_MINUTE / (np.pi / 4 * bore**2)
        assert given.velocity == pytest.approx(speed, rel=1e-14)
        assert given.bore == pytest.approx(0.785 * 25.4, rel=1e-14)
        assert given.reynolds_number == pytest.approx(
            fluids.Reynolds(V=speed, D=bore, rho=water.density(283.15), mu=water.dynamic_viscosity(283.15)), rel=1e-13
        )
        assert given.velocity_limit == pytest.approx(8 * FOOT, rel=1e-14)
        assert given.within_limit is True
        assert given.smallest_nominal_size == "3/4"
        assert given.defaults == {"water_temperature": "10 degC"}
        assert codes(given) == ["noise"]

    @pytest.mark.parametrize(
        ("flow", "regime"), [("0.5 L/min", "laminar"), ("3 L/min", "transition"), ("30 L/min", "turbulent")]
    )
    def test_regime(self, flow, regime):
        assert run(VELOCITY, {"flow": flow, "bore": "20 mm"}).regime == regime

    def test_too_fast(self):
        given = run(VELOCITY, {"flow": "15 gal/min", "material": "copper_type_l", "nominal_size": "3/4"})
        assert given.within_limit is False
        assert codes(given) == ["velocity_above_limit", "noise", "erosion"]
        warning = given.warnings[0]
        assert "2.44 m/s (8 ft/s)" in warning.message
        assert "Copper Tube Handbook" in warning.message
        assert given.smallest_nominal_size == "1"

    @pytest.mark.parametrize(("temperature", "feet"), [("10 degC", 8), ("110 degF", 5), ("140 degF", 2)])
    def test_hot_water_has_its_own_limit(self, temperature, feet):
        request = {"flow": "4 gal/min", "material": "copper_type_m", "nominal_size": "1"}
        given = run(VELOCITY, {**request, "water_temperature": temperature})
        assert given.velocity_limit == pytest.approx(feet * FOOT, rel=1e-12)

    def test_an_entered_limit_comes_first(self):
        request = {"flow": "9 gal/min", "material": "copper_type_l", "nominal_size": "3/4", "velocity_limit": "4 ft/s"}
        given = run(VELOCITY, request)
        assert given.velocity_limit == pytest.approx(4 * FOOT, rel=1e-14)
        assert codes(given) == ["velocity_above_limit", "noise"]
        assert given.smallest_nominal_size == "1"

    def test_no_size_is_wide_enough(self):
        given = run(VELOCITY, {"flow": "200 gal/min", "material": "pex_sdr9", "nominal_size": "1"})
        assert given.smallest_nominal_size is None
        told = {"velocity_above_limit", "no_size_large_enough", "noise", "implausible_velocity", "stiffest_grade"}
        assert set(codes(given)) == told

    def test_a_velocity_implausible_in_a_house(self):
        """Common practice, no source: 20 m/s needs a pressure of 2 bar (density x velocity^2 / 2)."""
        area = np.pi / 4 * 0.02**2
        rows = run_batch(
            VELOCITY, {"flow": {"value": area * np.array([19.99, 20.01]), "unit": "m3/s"}, "bore": "20 mm"}
        )
        (told,) = (warning for warning in rows.warnings if warning.code == "implausible_velocity")
        assert told.rows == [1]

    @given(st.floats(0.5, 60.0), st.sampled_from(sorted(pipe_materials())), st.floats(1.0, 90.0))
    def test_the_smallest_size_is_just_wide_enough(self, flow, material, temperature):
        request = {"flow": f"{flow!r} L/min", "material": material, "water_temperature": f"{temperature!r} degC"}
        sizes = list(pipe_materials()[material].sizes)
        told = run(VELOCITY, {**request, "nominal_size": sizes[0]}).smallest_nominal_size
        fits = [run(VELOCITY, {**request, "nominal_size": size}).within_limit for size in sizes]
        assert told == (sizes[fits.index(True)] if any(fits) else None)

    @given(st.floats(0.1, 200.0), st.floats(4.0, 100.0))
    def test_directions(self, flow, bore):
        here = run(VELOCITY, {"flow": f"{flow!r} L/min", "bore": f"{bore!r} mm"})
        more = run(VELOCITY, {"flow": f"{1.01 * flow!r} L/min", "bore": f"{bore!r} mm"})
        wider = run(VELOCITY, {"flow": f"{flow!r} L/min", "bore": f"{1.01 * bore!r} mm"})
        assert more.velocity > here.velocity > wider.velocity
        assert more.smallest_bore > here.smallest_bore == wider.smallest_bore

    @given(st.floats(0.1, 200.0), st.floats(4.0, 100.0), st.floats(1.0, 90.0))
    def test_units_do_not_matter(self, flow, bore, temperature):
        si = {"flow": flow / 60000, "bore": bore / 1000, "water_temperature": temperature + 273.15, "units": "si"}
        metric = {"flow": flow, "bore": bore, "water_temperature": temperature, "units": "metric"}
        customary = {
            "flow": f"{flow / 60000 / GALLON_A_MINUTE!r} gal/min",
            "bore": f"{bore / 25.4!r} in",
            "water_temperature": f"{temperature * 1.8 + 32!r} degF",
            "units": "si",
        }
        first, second, third = run(VELOCITY, si), run(VELOCITY, metric), run(VELOCITY, customary)
        assert first.velocity == pytest.approx(second.velocity, rel=1e-12) == pytest.approx(third.velocity, rel=1e-12)
        assert second.reynolds_number == pytest.approx(first.reynolds_number, rel=1e-11)
        assert third.reynolds_number == pytest.approx(first.reynolds_number, rel=1e-11)

    @pytest.mark.parametrize(
        ("pipe", "faults"),
        [
            ({}, {("/bore", "required")}),
            ({"material": "copper_type_l"}, {("/nominal_size", "required")}),
            ({"nominal_size": "3/4"}, {("/material", "required")}),
            ({"material": "copper_type_l", "nominal_size": "4"}, {("/nominal_size", "unknown_choice")}),
            ({"bore": "20 mm", "material": "pex_sdr9", "nominal_size": "1"}, {("/bore", "conflicting_inputs")}),
            ({"bore": "0.5 mm"}, {("/bore", "out_of_range")}),
            ({"bore": "20 gal"}, {("/bore", "unit_wrong_dimension")}),
            ({"bore": "20 mm", "flow": "0 L/min"}, {("/flow", "out_of_range")}),
            (
                {"bore": "20 mm", "nominal_sice": "1", "water_temperature": "120 degC"},
                {("/nominal_sice", "unknown_field"), ("/water_temperature", "out_of_range")},
            ),
        ],
    )
    def test_refusals(self, pipe, faults):
        assert refused(VELOCITY, {"flow": "9 gal/min", **pipe}) == faults

    def test_a_size_that_is_not_made_lists_the_available_ones(self):
        with pytest.raises(RequestRefused) as refusal:
            run(VELOCITY, {"flow": "9 gal/min", "material": "pex_sdr9", "nominal_size": "2"})
        assert refusal.value.faults[0].allowed == list(pipe_materials()["pex_sdr9"].sizes)
