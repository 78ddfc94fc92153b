"""The integrals behind the fluence rate, one for both models: sums over the rays of a lamp of unit power.

The angle at the lamp is the only variable left; its tangent is sinh x and the nodes lie evenly in x, piece by piece.
Arrays are (end of the lamp, node, case).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from dosewright.core.annulus import volume
from dosewright.core.arrays import Array, Values, by_chunks, sum_over_nodes
from dosewright.core.optics import Bundle, Rays, RefractedRays, SleeveOptics, StraightRays

__all__ = [
    "absorbed_along",
    "along_line",
    "at_point",
    "gauss_legendre",
    "over_cases",
    "over_chamber",
    "over_chamber_and_beside_arc",
    "stacked",
]

_CHUNK: Final = 256
_SERIES_BELOW: Final = 0.02  # absorption times the longest way, where a series keeps the digits that differences lose
_NO_WAY: Final = 1e-9  # share of the bore: an arc that starts at the end wall is shortened by it, keeping 0/0 out


def gauss_legendre(count: int) -> tuple[Array, Array]:
    """Nodes and weights on the piece from 0 to 1, as columns."""
    points, weights = np.polynomial.legendre.leggauss(count)
    return 0.5 * (points[:, None] + 1.0), 0.5 * weights[:, None]


# Nodes of the chamber average up to the ray that meets the end wall at the bore, and from there to the one that meets
# it at the sleeve; nodes of the others on each piece. tests/core/test_uv_fluence.py measures what they hold.
_FULL_POINTS, _FULL_WEIGHTS = gauss_legendre(20)
_PART_POINTS, _PART_WEIGHTS = gauss_legendre(12)
_FULL, _PART = slice(0, _FULL_POINTS.size), slice(_FULL_POINTS.size, None)
_POINTS, _WEIGHTS = gauss_legendre(32)


def over_cases(
    kernel: Callable[..., tuple[Array, ...]],
    sleeve_radius: Values,
    sleeve: SleeveOptics | None,
    values: tuple[Values, ...],
) -> tuple[Values, ...]:
    """Run a kernel of unit power over the cases, on straight or refracted rays."""
    if sleeve is None:

        def straight(inside: Values, *rest: Values) -> tuple[Array, ...]:
            return kernel(StraightRays(inside), *rest)

        return by_chunks(straight, _CHUNK, sleeve_radius, *values)
    emission = sleeve.emission

    def refracted(
        inside: Values, wall: Values, quartz: Values, n_air: Values, n_quartz: Values, n_water: Values, *rest: Values
    ) -> tuple[Array, ...]:
        optics = SleeveOptics(wall, quartz, n_air, n_quartz, n_water, emission)
        return kernel(RefractedRays(inside, optics), *rest)

    return by_chunks(refracted, _CHUNK, sleeve_radius, *sleeve[:5], *values)


def _cross(rays: Rays, ends: Array, sleeve_radius: Values, bore_radius: Values) -> tuple[Bundle, Array]:
    """Rays up to the one that meets the end wall ahead at the bore, and on to the one that meets it at the sleeve.

    With the x of the last.
    """
    radii = stacked(bore_radius, sleeve_radius)[:, None]
    outer, inner = np.arcsinh(rays.tangent(ends, radii))
    width = inner - outer
    sheaf = rays.bundle(np.concatenate((outer * _FULL_POINTS, outer + width * _PART_POINTS), axis=1))
    step = np.concatenate((outer * _FULL_WEIGHTS, width * _PART_WEIGHTS), axis=1)
    return sheaf._replace(weight=sheaf.weight * step, given=sheaf.given * step), inner


def over_chamber(
    rays: Rays, absorption: Values, arc: Values, chamber: Values, sleeve_radius: Values, bore_radius: Values
) -> tuple[Array]:
    """Average over the water of the chamber."""
    ends = stacked(*_ends(arc, chamber, bore_radius))
    sheaf, _ = _cross(rays, ends, sleeve_radius, bore_radius)
    taken = sum_over_nodes(_taken(absorption, bore_radius - sleeve_radius, 0.5 * (arc + chamber), ends, sheaf)[0])
    return ((taken[0] - taken[1]) / (volume(bore_radius, sleeve_radius, chamber) * arc),)


def over_chamber_and_beside_arc(
    rays: Rays, absorption: Values, arc: Values, chamber: Values, sleeve_radius: Values, bore_radius: Values
) -> tuple[Array, ...]:
    """Average over the chamber; at the sleeve and at the bore beside the middle of the arc; where the power stays.

    The last four are shares of the lamp's power: taken up by the water, kept by the sleeve, met by the bore, lost
    through the end walls. Each is an integral of its own, so that their sum tells how good they are.
    """
    gap = bore_radius - sleeve_radius
    ends = stacked(*_ends(arc, chamber, bore_radius), 0.5 * arc)
    sheaf, last = _cross(rays, ends, sleeve_radius, bore_radius)
    passed = np.exp(-(absorption * gap) * sheaf.secant)
    local = sheaf.weight[2] * sheaf.secant[2]
    to_ends = Bundle(*(values[:2] for values in sheaf))
    taken, to_entry, once = _taken(absorption, gap, 0.5 * (arc + chamber), ends[:2], to_ends)
    terms = np.empty((6, *taken.shape))
    terms[0] = taken
    terms[1] = (to_ends.given - to_ends.weight) * to_entry
    terms[2] = to_ends.weight * (to_entry - gap * to_ends.tangent) * passed[:2]
    terms[2, :, _PART] = 0.0
    terms[3] = to_ends.weight * to_ends.sine * once
    terms[4] = to_ends.given * to_ends.entry
    terms[5, 0], terms[5, 1] = local, local * passed[2]
    terms[5, 1, _PART] = 0.0
    sums = sum_over_nodes(terms)
    never = ends[:2, 0] * rays.beyond(last[:2, 0])
    shares = (sums[:5, 0] - sums[:5, 1]) / arc
    return (
        shares[0] / volume(bore_radius, sleeve_radius, chamber),
        sums[5, 0] / (2.0 * np.pi * arc * sleeve_radius),
        sums[5, 1] / (2.0 * np.pi * arc * bore_radius),
        absorption * shares[0],
        shares[1],
        shares[2],
        shares[3] + shares[4] + (never[0] - never[1]) / arc,
    )


def _ends(arc: Values, chamber: Values, bore_radius: Values) -> tuple[Values, Values]:
    return 0.5 * (chamber + arc), np.maximum(0.5 * (chamber - arc), _NO_WAY * bore_radius)


def _taken(absorption: Values, gap: Values, farthest: Values, ends: Array, sheaf: Bundle) -> tuple[Array, Array, Array]:
    """Absorbed share over absorption, summed over the lamp points from the end wall to each end: its terms.

    With the lamp points before the entry [m], and the integral of what is left along the way [m].
    """
    to_entry = ends - sheaf.entry
    way = gap * sheaf.secant
    way[:, _PART] = to_entry[:, _PART] / sheaf.sine[:, _PART]
    once, twice = absorbed_along(absorption, way, gap + farthest)
    terms = sheaf.sine * twice
    terms[:, _FULL] += (to_entry[:, _FULL] - gap * sheaf.tangent[:, _FULL]) * once[:, _FULL]
    return terms * sheaf.weight, to_entry, once


def absorbed_along(absorption: Values, way: Array, longest: Values) -> tuple[Array, Array]:
    """Integral of exp(-absorption s) over a way, and the integral of that: way and way²/2 in clear water."""
    small = absorption * longest < _SERIES_BELOW
    if not np.any(small):
        return _absorbed_directly(absorption, way)
    step = absorption * way
    fourth = 1.0 - step * (1.0 - step * (1.0 - step / 6.0) / 5.0) / 4.0
    third = 1.0 - step * fourth / 3.0
    once, twice = way * (1.0 - 0.5 * step * third), 0.5 * way * way * third
    if np.all(small):
        return once, twice
    direct = _absorbed_directly(np.where(small, 1.0, absorption), way)
    return np.where(small, once, direct[0]), np.where(small, twice, direct[1])


def _absorbed_directly(absorption: Values, way: Array) -> tuple[Array, Array]:
    inverse = 1.0 / absorption
    once = np.expm1(-absorption * way) * -inverse
    return once, (way - once) * inverse


def along_line(
    rays: Rays, absorption: Values, arc: Values, chamber: Values, sleeve_radius: Values, radius: Values
) -> tuple[Array]:
    """Average from end wall to end wall at one radius."""
    gap = radius - sleeve_radius
    ends = stacked(0.5 * (chamber + arc), 0.5 * (chamber - arc))
    limit = np.arcsinh(rays.tangent(ends, radius))
    sheaf = rays.bundle(limit * _POINTS)
    lit = ends - sheaf.entry - gap * sheaf.tangent
    terms = sheaf.weight * sheaf.secant * np.exp(-(absorption * gap) * sheaf.secant) * lit
    along = sum_over_nodes(terms * _WEIGHTS) * limit[:, 0]
    return ((along[0] - along[1]) / (2.0 * np.pi * arc * chamber * radius),)


def at_point(
    rays: Rays, absorption: Values, arc: Values, position: Values, sleeve_radius: Values, radius: Values
) -> tuple[Array]:
    """At one radius and one distance from the middle of the arc."""
    gap = radius - sleeve_radius
    away = abs(position)
    far, near = 0.5 * arc + away, 0.5 * arc - away
    limits = np.arcsinh(rays.tangent(stacked(far, abs(near)), radius))
    # Beside the arc the two sides add; past its end only the angles between its ends count.
    past = near < 0.0
    lower = limits[1] * past
    start, width = stacked(lower, 0.0), stacked(limits[0] - lower, limits[1] - lower)
    sheaf = rays.bundle(start + width * _POINTS)
    terms = sheaf.weight * sheaf.secant * np.exp(-(absorption * gap) * sheaf.secant)
    pieces = sum_over_nodes(terms * _WEIGHTS) * width[:, 0]
    return ((pieces[0] + pieces[1]) / (4.0 * np.pi * arc * radius),)


def stacked(*values: Values) -> Array:
    """Stack values of each case as (value, 1, case)."""
    sizes = [value.size for value in values if isinstance(value, np.ndarray)]
    rows = np.empty((len(values), 1, max(sizes, default=1)))
    for row, value in zip(rows, values, strict=True):
        row[0] = value
    return rows
