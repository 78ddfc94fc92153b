"""Fluence rate against a threefold sum that is independent of the code: lamp points, one by one, over the chamber.

The local field is summed over the arc from the light of one lamp point at one water point. The path of a refracted
ray comes from halving, its spreading from its derivative, its losses from the reflectances of both polarisations.
Panels of Gauss-Legendre nodes shrink toward the place where the lamp is near.
"""

import mpmath
import numpy as np
import pytest

from dosewright.core.hydraulics import annulus
from dosewright.core.light import fluence
from dosewright.core.light.optics import SleeveOptics

N_AIR, N_QUARTZ, N_WATER = 1.0003, 1.5055, 1.3757
SLEEVE = SleeveOptics(0.0012, 9.0, N_AIR, N_QUARTZ, N_WATER)
CHAMBERS = [
    # absorption, arc, chamber, sleeve radius, bore radius
    (10.54, 0.40, 0.40, 0.012, 0.036),
    (35.7, 0.10, 0.17, 0.0115, 0.070),
    (1.0, 0.80, 0.90, 0.0175, 0.022),
    (0.01, 0.25, 0.50, 0.010, 0.045),
]


def panels(edges, count):
    """Gauss-Legendre points and weights on each piece between rising edges."""
    points, weights = np.polynomial.legendre.leggauss(count)
    edges = np.asarray(edges)
    half = 0.5 * np.diff(edges)[:, None]
    return (edges[:-1, None] + half * (points + 1.0)).ravel(), (half * weights).ravel()


def spread_from(length, smallest):
    """Edges from 0 to a length, growing by half from the smallest piece."""
    edges = [0.0]
    step = smallest
    while edges[-1] + 1.5 * step < length:
        edges.append(edges[-1] + step)
        step *= 1.5
    return [*edges, length]


def straight(way, radius, absorption, sleeve_radius):
    """Light of a 1 W lamp point at a water point, at an axial distance."""
    square = way * way + radius * radius
    crossed = np.sqrt(square) * (radius - sleeve_radius) / radius
    return np.exp(-absorption * crossed) / (4.0 * np.pi * square)


def passed(n_from, n_to, angle_from, angle_to):
    c_from, c_to = np.cos(angle_from), np.cos(angle_to)
    across = ((n_from * c_from - n_to * c_to) / (n_from * c_from + n_to * c_to)) ** 2
    along = ((n_to * c_from - n_from * c_to) / (n_to * c_from + n_from * c_to)) ** 2
    return 1.0 - 0.5 * (across + along)


def refracted(way, radius, absorption, sleeve_radius):
    """The same through the sleeve."""
    inner, gap = sleeve_radius - SLEEVE.wall, radius - sleeve_radius
    lowest, highest = np.zeros_like(way), np.full_like(way, 0.5 * np.pi)

    def angles(lamp):
        return np.arcsin(np.sin(lamp) * N_AIR / N_QUARTZ), np.arcsin(np.sin(lamp) * N_AIR / N_WATER)

    for _ in range(52):
        lamp = 0.5 * (lowest + highest)
        quartz, water = angles(lamp)
        short = inner * np.tan(lamp) + SLEEVE.wall * np.tan(quartz) + gap * np.tan(water) < way
        lowest, highest = np.where(short, lamp, lowest), np.where(short, highest, lamp)
    quartz, water = angles(lamp)
    stretch = (
        inner / np.cos(lamp) ** 2
        + SLEEVE.wall * (N_AIR / N_QUARTZ) * np.cos(lamp) / np.cos(quartz) ** 3
        + gap * (N_AIR / N_WATER) * np.cos(lamp) / np.cos(water) ** 3
    )
    faces = passed(N_AIR, N_QUARTZ, lamp, quartz) * passed(N_QUARTZ, N_WATER, quartz, water)
    lost = SLEEVE.absorption * SLEEVE.wall / np.cos(quartz) + absorption * gap / np.cos(water)
    return faces * np.exp(-lost) * np.cos(lamp) / (4.0 * np.pi * radius * stretch * np.cos(water))


def local(radius, position, case, one_point):
    """Sum over the arc, from the foot of the water point outward on either side."""
    absorption, arc, _, sleeve_radius, _ = case
    total = 0.0
    for end, sign in ((0.5 * arc - position, 1.0), (0.5 * arc + position, 1.0)):
        points, weights = panels(spread_from(abs(end), 0.4 * radius), 10)
        part = np.sum(weights * one_point(points, radius, absorption, sleeve_radius))
        total += sign * np.copysign(part, end)
    return total / arc


def average(case, one_point):
    _, arc, chamber, sleeve_radius, bore_radius = case
    radii, radial = panels(np.geomspace(sleeve_radius, bore_radius, 4), 8)
    inside, outside = 0.5 * arc, 0.5 * (chamber - arc)
    edges = [inside - edge for edge in reversed(spread_from(inside, 0.4 * sleeve_radius))]
    if outside > 0.0:
        edges += [inside + edge for edge in spread_from(outside, 0.4 * sleeve_radius)[1:]]
    positions, axial = panels(edges, 8)
    field = np.array([[local(radius, position, case, one_point) for position in positions] for radius in radii])
    over_water = np.sum(radial * 2.0 * np.pi * radii * np.sum(2.0 * axial * field, axis=1))
    return over_water / annulus.volume(bore_radius, sleeve_radius, chamber)


@pytest.mark.parametrize("case", CHAMBERS)
def test_plain_chamber_average(case):
    assert fluence.chamber_average(1.0, *case) == pytest.approx(average(case, straight), rel=1e-10)


@pytest.mark.parametrize("case", CHAMBERS[:2])
def test_refracted_chamber_average(case):
    assert fluence.chamber_average(1.0, *case, SLEEVE) == pytest.approx(average(case, refracted), rel=1e-10)


@pytest.mark.parametrize(("one_point", "sleeve"), [(straight, None), (refracted, SLEEVE)])
@pytest.mark.parametrize("case", CHAMBERS)
def test_local_fluence_rate(case, one_point, sleeve):
    absorption, arc, _, sleeve_radius, bore_radius = case
    for radius in (sleeve_radius, 0.5 * (sleeve_radius + bore_radius), bore_radius):
        for position in (0.0, 0.31 * arc, 0.5 * arc, 0.5 * arc + bore_radius):
            value = fluence.fluence_rate(1.0, absorption, arc, sleeve_radius, radius, -position, sleeve)
            assert value == pytest.approx(local(radius, position, case, one_point), rel=2e-9)


def test_plain_local_fluence_rate_to_twelve_digits():
    radius, position, (absorption, arc, _, sleeve_radius, _) = 0.03, 0.21, CHAMBERS[0]

    def lamp_point(along):
        distance = mpmath.sqrt(radius**2 + (position - along) ** 2)
        crossed = distance * (radius - sleeve_radius) / radius
        return mpmath.exp(-absorption * crossed) / (4 * mpmath.pi * distance**2)

    exact = mpmath.quad(lamp_point, [-arc / 2, 0, arc / 4, arc / 2]) / arc
    value = fluence.fluence_rate(1.0, absorption, arc, sleeve_radius, radius, position)
    assert value == pytest.approx(float(exact), rel=1e-12)


def test_chamber_average_is_the_line_averages_over_the_annulus():
    for case in CHAMBERS:
        absorption, arc, chamber, sleeve_radius, bore_radius = case
        radii, weights = panels(np.linspace(sleeve_radius, bore_radius, 5), 12)
        for sleeve in (None, SLEEVE):
            lines = fluence.line_average(1.0, absorption, arc, chamber, sleeve_radius, radii, sleeve)
            over_water = np.sum(weights * 2.0 * np.pi * radii * chamber * lines)
            expected = over_water / annulus.volume(bore_radius, sleeve_radius, chamber)
            assert fluence.chamber_average(1.0, *case, sleeve) == pytest.approx(expected, rel=1e-9)
