"""Flow from pressure, splits between branches, and fitted device curves, against other solvers and closed forms."""

import numpy as np
import pytest
from fluids import friction_factor as library_friction
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, curve_fit

from dosewright.core.hydraulics import friction, losses, pipe
from dosewright.core.hydraulics.devices import fit_power_law, power_law_pressure_drop
from dosewright.core.hydraulics.flow_split import FLATTEST, STEEPEST, flow_for_loss, split_flow

NU, RHO = 1.0219e-6, 998.4


def pipe_loss(length, bore, roughness=1.5e-6, coefficient=0.0, factor=friction.friction_factor):
    def loss(flow):
        speed = pipe.velocity(flow, bore)
        f = factor(pipe.reynolds_number(speed, bore, NU), roughness / bore)
        return losses.loss_pressure_drop(losses.friction_coefficient(f, length, bore) + coefficient, RHO, speed)

    return loss


BRANCHES = st.tuples(st.floats(0.006, 0.06), st.floats(0.2, 200.0), st.floats(0.0, 50.0))
POINTS = st.lists(st.floats(0.1, 100.0), min_size=2, max_size=5, unique=True)
WRONG = (([1.0], [1.0]), ([1.0, 1.0], [1.0, 2.0]), ([1.0, 2.0], [0.0, 2.0]), ([0.0, 2.0], [1.0, 2.0]))


class TestFlowForLoss:
    @given(st.floats(-7.0, -2.0), st.floats(0.004, 0.1), st.floats(0.1, 1000.0))
    @settings(max_examples=300)
    def test_inverts_the_loss_from_laminar_to_rough(self, power, bore, length):
        flow = 10.0**power
        loss = pipe_loss(length, bore)
        assert flow_for_loss(loss, loss(flow), 1e-8, 0.05) == pytest.approx(flow, rel=1e-11)

    def test_rows_do_not_affect_each_other(self):
        bores = np.geomspace(0.005, 0.05, 40)
        lengths = np.geomspace(1.0, 300.0, 40)
        targets = np.geomspace(10.0, 3e5, 40)
        together = flow_for_loss(pipe_loss(lengths, bores), targets, 1e-8, 0.05)
        for row, (length, bore, target) in enumerate(zip(lengths, bores, targets, strict=True)):
            assert flow_for_loss(pipe_loss(float(length), float(bore)), float(target), 1e-8, 0.05) == together[row]

    def test_out_of_reach_is_not_a_number(self):
        assert np.isnan(flow_for_loss(lambda flow: flow, 10.0, 1e-3, 1.0))
        assert np.isnan(flow_for_loss(lambda flow: flow, 1e-9, 1e-3, 1.0))
        assert np.isnan(flow_for_loss(lambda flow: 0.0 * flow, 1.0, 1e-3, 1.0))
        assert flow_for_loss(lambda flow: flow, 1.0, 1e-3, 1.0) == pytest.approx(1.0, rel=1e-12)
        assert flow_for_loss(lambda flow: flow, 1e-3, 1e-3, 1.0) == pytest.approx(1e-3, rel=1e-12)

    def test_refusals(self):
        with pytest.raises(ValueError, match="highest flow"):
            flow_for_loss(lambda flow: flow, 1.0, 1.0, 1.0)


class TestSplit:
    @pytest.mark.parametrize("power", [FLATTEST, 0.2, 1.0, 4.0, STEEPEST])
    @given(st.floats(-6.0, -2.0), st.floats(-2.0, 2.0), st.floats(-1.0, 1.0))
    def test_finds_a_split_between_its_flattest_and_its_steepest_loss(self, power, whole, dearer, later):
        def curve(flow):
            return 10.0**dearer * np.power(flow / (1e-3 * 10.0**later), power)

        def square(flow):
            return np.power(flow / 1e-3, 1.8)

        first, second = split_flow(10.0**whole, [curve, square])
        assert first + second == pytest.approx(10.0**whole, rel=1e-12)
        assert curve(first) == pytest.approx(square(second), rel=1e-11)

    def test_a_branch_without_flow_is_not_a_number_and_its_loss_is_never_calculated(self):
        def flat(flow):
            assert np.all(flow > 0.0)
            return 5.0 * np.power(flow, 1e-3)

        assert np.isnan(split_flow(1e-3, [flat, lambda flow: 9.0 * np.power(flow, 1e-3)])).all()
        beside = split_flow(np.array([1e-3, 2.0]), [lambda flow: flow * flow, lambda flow: 4.0 * flow * flow])
        assert beside[0] == pytest.approx([1e-3 * 2 / 3, 4 / 3], rel=1e-12)

    @given(
        st.floats(-6.5, -2.5),
        st.lists(
            st.tuples(st.floats(0.006, 0.06), st.floats(0.2, 200.0), st.floats(0.0, 50.0)), min_size=2, max_size=5
        ),
    )
    @settings(max_examples=300)
    def test_branch_flows_add_up_with_equal_loss(self, power, branches):
        flow = 10.0**power
        each = [pipe_loss(length, bore, coefficient=k) for bore, length, k in branches]
        parts = split_flow(flow, each)
        assert sum(parts) == pytest.approx(flow, rel=1e-12)
        lost = [loss(part) for loss, part in zip(each, parts, strict=True)]
        assert max(lost) == pytest.approx(min(lost), rel=1e-11)

    @given(st.floats(1.0, 60.0), st.floats(0.01, 0.03), st.floats(0.01, 0.03), st.floats(0.5, 30.0))
    @settings(max_examples=60)
    def test_against_a_root_finder_over_a_reference_library(self, litres, one, other, length):
        flow = litres / 60000.0

        def library(bore, long):
            loss = pipe_loss(long, bore, factor=library_friction)
            return lambda q: loss(max(q, 1e-12))

        first, second = library(one, length), library(other, 4.0)
        reynolds = [
            pipe.reynolds_number(pipe.velocity(part, bore), bore, NU)
            for part, bore in zip(
                split_flow(flow, [pipe_loss(length, one), pipe_loss(4.0, other)]), (one, other), strict=True
            )
        ]
        expected = brentq(lambda q: first(q) - second(flow - q), 1e-9 * flow, flow * (1 - 1e-9), xtol=1e-18, rtol=1e-14)
        part, _ = split_flow(flow, [pipe_loss(length, one), pipe_loss(4.0, other)])
        if min(reynolds) > 4000 or max(reynolds) < 2000:  # between them the two differ by convention
            assert part == pytest.approx(expected, rel=1e-9)

    def test_equal_branches_share_equally(self):
        loss = pipe_loss(3.0, 0.02, coefficient=2.0)
        assert split_flow(6e-4, [loss, loss, loss]) == pytest.approx((2e-4,) * 3, rel=1e-15)

    def test_laws_with_a_closed_form(self):
        parts = split_flow(5.0, [lambda q: 1.0 * q * q, lambda q: 16.0 * q * q])
        assert parts == pytest.approx((4.0, 1.0), rel=1e-13)
        laminar, turbulent = split_flow(3.0, [lambda q: 4.0 * q, lambda q: q * q])
        assert (laminar, turbulent) == pytest.approx((1.0, 2.0), rel=1e-12)

    def test_a_branch_without_loss_has_no_split(self):
        assert np.isnan(split_flow(1.0, [lambda q: 0.0 * q, lambda q: q])).all()

    def test_rows_do_not_affect_each_other(self):
        flows = np.geomspace(1e-6, 1e-3, 50)
        branches = [pipe_loss(3.0, 0.016), pipe_loss(9.0, 0.02, coefficient=4.0), pipe_loss(1.0, 0.01)]
        together = split_flow(flows, branches)
        for row, flow in enumerate(flows.tolist()):
            assert split_flow(flow, branches) == tuple(part[row] for part in together)


class TestPowerLaw:
    @given(
        st.floats(0.6, 2.4), st.floats(1e-3, 1e6), st.lists(st.floats(0.1, 100.0), min_size=2, max_size=5, unique=True)
    )
    def test_finds_the_law_its_points_come_from(self, exponent, scale, flows):
        if max(flows) < 1.01 * min(flows):
            return
        law = fit_power_law(flows, [scale * flow**exponent for flow in flows])
        assert law.exponent == pytest.approx(exponent, rel=1e-6)
        assert law.largest_deviation < 1e-7
        assert power_law_pressure_drop(7.0, law) == pytest.approx(scale * 7.0**exponent, rel=1e-5)

    def test_against_another_least_squares(self):
        flows, drops = np.array([2.0, 4.0, 7.0, 12.0]), np.array([0.9, 2.6, 7.2, 15.9])
        law = fit_power_law(flows.tolist(), drops.tolist())
        (offset, slope), _ = curve_fit(lambda x, a, n: a + n * x, np.log(flows), np.log(drops))
        assert law.exponent == pytest.approx(slope, rel=1e-9)
        fitted = np.exp(offset) * flows**slope
        assert power_law_pressure_drop(flows, law) == pytest.approx(fitted, rel=1e-9)
        assert law.largest_deviation == pytest.approx(np.abs(fitted / drops - 1).max(), rel=1e-8)

    def test_refusals(self):
        for flows, drops in (
            ([1.0], [1.0]),
            ([1.0, 1.0], [1.0, 2.0]),
            ([1.0, 2.0], [0.0, 2.0]),
            ([0.0, 2.0], [1.0, 2.0]),
        ):
            with pytest.raises(ValueError, match=r"two points|same|above zero"):
                fit_power_law(flows, drops)
        with pytest.raises(ValueError, match="negative"):
            power_law_pressure_drop(-1.0, fit_power_law([1.0, 2.0], [1.0, 2.0]))
