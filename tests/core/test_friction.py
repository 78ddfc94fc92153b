"""Darcy friction factor: three independent routes, limits, properties."""

import mpmath
import numpy as np
import pytest
from fluids import friction_factor as library_friction_factor
from fluids.friction import Clamond, Colebrook
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core.hydraulics.friction import REGIMES, flow_regime, friction_factor, laminar_annulus_constant

TURBULENT = st.floats(4000.0, 1e8)
ROUGHNESS = st.one_of(st.just(0.0), st.floats(1e-9, 0.05))


def colebrook_exact(reynolds, roughness):
    """Root of the equation as Colebrook wrote it, in 40 digits."""
    with mpmath.workdps(40):
        rough, smooth = mpmath.mpf(roughness) / mpmath.mpf("3.7"), mpmath.mpf("2.51") / mpmath.mpf(reynolds)
        root = mpmath.findroot(lambda x: x + 2 * mpmath.log10(rough + smooth * x), 7)
        return float(1 / root**2)


@given(TURBULENT, ROUGHNESS)
def test_solves_the_equation_itself(reynolds, roughness):
    """Put back into the equation, in its own form: fails for any factor with an error of 1e-12."""
    root = 1.0 / np.sqrt(friction_factor(reynolds, roughness))
    right = -2.0 * np.log10(roughness / 3.7 + 2.51 * root / reynolds)
    assert root == pytest.approx(right, rel=1e-12)


@pytest.mark.parametrize("reynolds", [4000.0, 1.2e4, 1e5, 3e6, 1e8])
@pytest.mark.parametrize("roughness", [0.0, 1e-6, 3e-4, 0.004, 0.05])
def test_many_digits(reynolds, roughness):
    assert friction_factor(reynolds, roughness) == pytest.approx(colebrook_exact(reynolds, roughness), rel=1e-13)


def test_whole_chart_against_the_library():
    reynolds = np.logspace(np.log10(4000.0), 8.0, 60)
    for roughness in [0.0, 1e-6, 1e-5, 1e-4, 1e-3, 0.01, 0.03, 0.05]:
        ours = friction_factor(reynolds, roughness)
        assert ours == pytest.approx([Clamond(one, roughness, fast=False) for one in reynolds.tolist()], rel=1e-12)
        assert ours[::20] == pytest.approx([Colebrook(one, roughness) for one in reynolds.tolist()[::20]], rel=1e-10)


@given(st.floats(1e-3, 1999.999), ROUGHNESS)
def test_laminar(reynolds, roughness):
    assert friction_factor(reynolds, roughness) == 64.0 / reynolds
    assert library_friction_factor(Re=reynolds, eD=roughness) == pytest.approx(64.0 / reynolds, rel=1e-15)


@given(st.floats(0.0, 1.0), ROUGHNESS)
def test_transition_is_a_straight_line(share, roughness):
    middle = friction_factor(2000.0 + 2000.0 * share, roughness)
    low, high = friction_factor(2000.0, roughness), friction_factor(4000.0, roughness)
    assert low == 0.032
    assert middle == pytest.approx(low + share * (high - low), rel=1e-12)


@given(st.floats(4000.0, 9.9e7), ROUGHNESS)
def test_turbulent_falls_with_reynolds_number_and_rises_with_roughness(reynolds, roughness):
    here = friction_factor(reynolds, roughness)
    assert friction_factor(reynolds * 1.01, roughness) < here
    rougher = friction_factor(reynolds, min(0.05, roughness * 1.01 + 1e-6))
    assert rougher >= here * (1.0 - 1e-15)  # if the roughness rises by its last digit, the difference is only rounding


@pytest.mark.parametrize("roughness", [1e-3, 0.01, 0.05])
def test_fully_rough_limit(roughness):
    limit = (-2.0 * np.log10(roughness / 3.7)) ** -2.0
    assert friction_factor(1e8, roughness) == pytest.approx(limit, rel=2e-4)


def test_one_alone_equals_one_of_many():
    generator = np.random.default_rng(7)
    reynolds = np.concatenate([10.0 ** generator.uniform(0, 8, 500), [1e-9, 1999.9999, 2000.0, 3999.9999, 4000.0, 1e8]])
    roughness = np.concatenate([generator.uniform(0, 0.05, 250), np.zeros(256)])
    together = friction_factor(reynolds, roughness)
    alone = [friction_factor(r, e) for r, e in zip(reynolds.tolist(), roughness.tolist(), strict=True)]
    assert together.tolist() == alone
    turbulent = reynolds >= 4000.0
    assert friction_factor(reynolds[turbulent], roughness[turbulent]).tolist() == together[turbulent].tolist()
    assert friction_factor(reynolds[::-2], roughness[::-2]).tolist() == together[::-2].tolist()


def test_broadcasts():
    table = friction_factor(np.array([[5e3], [5e4]]), np.array([0.0, 1e-4, 1e-2]))
    assert table.shape == (2, 3)
    assert table[1, 2] == friction_factor(5e4, 1e-2)


@pytest.mark.parametrize(
    ("reynolds", "roughness"),
    [(0.0, 0.0), (-5.0, 0.0), (1.1e8, 0.0), (float("nan"), 0.0), (1e5, -1e-9), (1e5, 0.0501), (1e5, float("nan"))],
)
def test_refuses_outside_the_chart(reynolds, roughness):
    with pytest.raises(ValueError, match=r"(Reynolds number|relative roughness) must"):
        friction_factor(reynolds, roughness)
    with pytest.raises(ValueError, match=r"(Reynolds number|relative roughness) must"):
        friction_factor(np.array([1e5, reynolds]), np.array([0.0, roughness]))


def test_regimes():
    reynolds = np.array([1.0, 1999.9, 2000.0, 3999.9, 4000.0, 1e7])
    names = [REGIMES[code] for code in flow_regime(reynolds).tolist()]
    assert names == ["laminar", "laminar", "transition", "transition", "turbulent", "turbulent"]
    assert [REGIMES[flow_regime(one)] for one in reynolds.tolist()] == names


def test_annulus_limits():
    assert laminar_annulus_constant(0.999) == pytest.approx(96.0, rel=1e-6)
    with pytest.raises(ValueError, match="radius ratio"):
        laminar_annulus_constant(1.0)


@pytest.mark.parametrize("radius_ratio", [0.02, 0.35, 0.8])
def test_annulus_from_the_velocity_profile(radius_ratio):
    """Integrate the profile of fully developed flow; outer radius, pressure gradient and viscosity are 1."""
    k = radius_ratio

    def profile(r):
        return (1 - r**2 + (1 - k**2) * mpmath.log(1 / r) / mpmath.log(k)) / 4

    flow = 2 * mpmath.pi * mpmath.quad(lambda r: profile(r) * r, [k, 1])
    mean = flow / (mpmath.pi * (1 - k**2))
    hydraulic = 2 * (1 - k)
    assert laminar_annulus_constant(k) == pytest.approx(float(2 * hydraulic**2 / mean), rel=1e-10)
