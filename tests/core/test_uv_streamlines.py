"""Uneven doses by independent routes: adaptive quadrature and brute-force sums written here, not the core's nodes."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from dosewright.core.light.doses import dose_distribution, dose_shares, laminar_dose, tank_doses
from dosewright.core.light.doses.dose_distribution import FINE
from dosewright.core.light.field import Field
from dosewright.core.light.optics import SleeveOptics
from dosewright.core.light.survival import DoseResponse

SLEEVE = SleeveOptics(0.0015, 5.0, 1.0003, 1.5055, 1.3757)
POWER, FLOW, RATE = 15.0, 2e-4, 0.01
# Bore radius [m] and UVT per cm of invented chambers: usual, dark, wide.
CHAMBERS = [(0.04, 0.90), (0.04, 0.30), (0.10, 0.75)]


def chamber(bore: float, reflectance: float | None = None) -> Field:
    return Field(0.70, 0.75, 0.0125, bore, SLEEVE, wall_reflectance=reflectance)


def absorption_of(uvt: float) -> float:
    return -100.0 * math.log(uvt)


def speed(radius: Any, field: Field) -> Any:
    """Laminar flow between two cylinders, in m/s (textbook); its flow by the closed integral, not by a sum."""
    outer, inner = float(field.bore_radius), float(field.sleeve_radius)
    k = inner / outer
    bend = (1.0 - k * k) / math.log(1.0 / k)
    shape = 1.0 - (radius / outer) ** 2 + bend * np.log(radius / outer)
    whole = 0.5 * math.pi * outer**2 * ((1.0 - k**4) - (1.0 - k * k) ** 2 / math.log(1.0 / k))
    return shape * FLOW / whole


def dose_at(radius: Any, field: Field, absorption: float) -> Any:
    return field.line(POWER, absorption, radius) * field.chamber_length / speed(radius, field)


def red_by_quadrature(field: Field, absorption: float) -> float:
    def alive(radius: float) -> float:
        share = 2.0 * math.pi * radius * speed(radius, field) / FLOW
        return float(share * np.exp(-RATE * dose_at(radius, field, absorption)))

    ends = (float(field.sleeve_radius), float(field.bore_radius))
    survival, _ = integrate.quad(alive, *ends, epsabs=0.0, epsrel=1e-9, limit=400)
    return -math.log(survival) / RATE


@pytest.mark.parametrize(("bore", "uvt"), CHAMBERS)
@pytest.mark.parametrize("reflectance", [0.0, 0.25, 0.9])
def test_laminar_red_with_a_reflecting_wall(bore: float, uvt: float, reflectance: float) -> None:
    field, absorption = chamber(bore, reflectance), absorption_of(uvt)
    found, _ = laminar_dose.laminar_dose(field, POWER, absorption, FLOW, DoseResponse("first_order", RATE))
    assert found == pytest.approx(red_by_quadrature(field, absorption), rel=1e-6)


@pytest.mark.parametrize(("bore", "uvt"), CHAMBERS)
def test_the_red_never_falls_as_the_wall_reflects_more(bore: float, uvt: float) -> None:
    absorption = absorption_of(uvt)
    shine = np.concatenate([[0.0, 1e-6, 1e-4, 1e-3], np.linspace(0.01, 0.95, 20)])
    response = DoseResponse("first_order", RATE)
    reds = [
        laminar_dose.laminar_dose(chamber(bore, one), POWER, absorption, FLOW, response)[0] for one in shine.tolist()
    ]
    assert np.all(np.diff(reds) >= 0.0)
    bare = laminar_dose.laminar_dose(chamber(bore), POWER, absorption, FLOW, response)[0]
    assert reds[0] == pytest.approx(bare, rel=1e-9)


@pytest.mark.parametrize(("bore", "uvt"), CHAMBERS)
@pytest.mark.parametrize("reflectance", [None, 0.25])
def test_the_lowest_dose_of_a_streamline(bore: float, uvt: float, reflectance: float | None) -> None:
    """A brute-force search over 4,000 radii, then a minimiser between the neighbours of the lowest."""
    field, absorption = chamber(bore, reflectance), absorption_of(uvt)
    radii = np.linspace(0.0125, bore, 4_002)[1:-1]
    doses = dose_at(radii, field, absorption)
    at = int(np.argmin(doses))
    ends = (float(radii[max(at - 1, 0)]), float(radii[min(at + 1, len(radii) - 1)]))
    best = optimize.minimize_scalar(
        lambda radius: float(dose_at(radius, field, absorption)), bounds=ends, method="bounded", options={"xatol": 1e-9}
    )
    (least,) = dose_distribution.least_dose_flow(field, POWER, absorption) / FLOW
    assert least == pytest.approx(min(float(best.fun), float(doses[at])), rel=3e-5)


@pytest.mark.parametrize(("bore", "uvt"), CHAMBERS)
@pytest.mark.parametrize("reflectance", [None, 0.25])
def test_share_below_a_target_by_counting_rings(bore: float, uvt: float, reflectance: float | None) -> None:
    """Within 0.1 percentage points, from just above the least dose on; 40,000 rings counted here."""
    field, absorption = chamber(bore, reflectance), absorption_of(uvt)
    edges = np.linspace(0.0125, bore, 40_001)
    radii = 0.5 * (edges[1:] + edges[:-1])
    doses = dose_at(radii, field, absorption)
    shares = np.pi * (edges[1:] ** 2 - edges[:-1] ** 2) * speed(radii, field) / FLOW
    assert float(np.sum(shares)) == pytest.approx(1.0, rel=1e-6)
    spread = dose_distribution.in_laminar_flow(field, POWER, absorption, FLOW, FINE)
    least, mean = float(np.min(doses)), float(np.sum(doses * shares))
    targets = [0.99 * least, *(least * (1.0 + step) for step in (1e-4, 1e-3, 3e-3, 0.01, 0.03, 0.1, 0.3)), mean]
    targets += [2.0 * mean]
    for target in targets:
        counted = float(np.sum(shares[doses < target]))
        assert float(dose_shares.share_below(spread, target)[0]) == pytest.approx(counted, abs=1e-3)


@pytest.mark.parametrize("tanks", [1.0, 2.5, 4.0, 50.0])
@pytest.mark.parametrize("targets", [2.0, 20.0, 1000.0])
@pytest.mark.parametrize("mean", [100.0, 1000.0, 3000.0])
def test_many_targets_in_tanks(tanks: float, targets: float, mean: float) -> None:
    """Gamma-distributed doses by adaptive quadrature; the RED solved for here."""
    rate = 0.05
    gamma = stats.gamma(tanks, scale=mean / tanks)

    def alive(dose: float) -> float:
        if rate * dose > 30.0:
            return targets * math.exp(-rate * dose)  # within exp(-30) of the form below
        return -math.expm1(targets * math.log1p(-math.exp(-rate * dose))) if dose > 0.0 else 1.0

    far = float(gamma.ppf(1.0 - 1e-15))
    # Doses of the survivors: their peak moves from the mean down to the shoulder.
    shoulder = math.log(targets) / rate
    slow = mean / (1.0 + rate * mean / tanks)
    marks = sorted({min(far, place) for place in (0.2 * slow, slow, 2.0 * slow, shoulder, 2.0 * shoulder, mean)})
    edges = [0.0, *marks, far]
    survival = sum(
        integrate.quad(
            lambda dose: float(gamma.pdf(dose)) * alive(dose), low, high, epsabs=0.0, epsrel=1e-10, limit=300
        )[0]
        for low, high in itertools.pairwise(edges)
        if high > low
    )
    one = -math.expm1(math.log1p(-survival) / targets)  # probability that a target survives
    red = tank_doses.reduction_equivalent_dose(mean, DoseResponse("multi_target", rate, targets=targets), tanks)
    assert float(red) == pytest.approx(-math.log(one) / rate, rel=1e-5)
