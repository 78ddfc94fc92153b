"""The integrals behind the fluence rate, one for both models: sums over the rays of a lamp of unit power.

The angle at the lamp is the only remaining variable. Its nodes are placed piece by piece.
Arrays are (end of the lamp, node, case).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np

from dosewright.core.arrays import Array, Values, by_chunks, sum_over_nodes
from dosewright.core.hydraulics.annulus import volume
from dosewright.core.light.lamp_angles import BENT_NODES, STRAIGHT_NODES, WIDE_NODES, Nodes, at_x, gauss_legendre
from dosewright.core.light.optics import BENT, STEPS, Bundle, Rays, RefractedRays, SleeveOptics, StraightRays

__all__ = [
    "absorbed_along",
    "along_line",
    "at_point",
    "over_cases",
    "over_chamber",
    "over_chamber_and_beside_arc",
    "stacked",
]

_CHUNK: Final = 768
_SERIES_BELOW: Final = (
    0.02  # absorption times the longest path, below which a series keeps the digits that differences lose
)
_WIDE: Final = 6.0  # bore over sleeve above which a chamber needs more nodes
# The average hardly depends on where its pieces meet, or on its last ray, which has no power. Three steps to them
# have an error of 1e-13, two steps 6e-8 in the widest chambers.
_STEPS_OF_AVERAGE: Final = 3
_NO_WAY: Final = 1e-9  # share of the bore: an arc that starts at the end wall is shortened by it, keeping 0/0 out


# Nodes of all integrals except the chamber average, per piece. tests/core/test_uv_fluence.py measures the accuracy.
_POINTS, _WEIGHTS = gauss_legendre(32)


def over_cases(
    kernel: Callable[..., tuple[Array, ...]],
    sleeve_radius: Values,
    sleeve: SleeveOptics | None,
    values: tuple[Values, ...],
    bore_radius: Values | None = None,
) -> tuple[Values, ...]:
    """Run a kernel of unit power over the cases, on straight or refracted rays.

    With a bore, the number of nodes across the chamber depends on its width.

    Source
    ------
    Derived here: numbers of nodes from the convergence that the README of the light shows.
    """
    narrow: Any = True if bore_radius is None else bore_radius <= _WIDE * sleeve_radius
    if sleeve is None:

        def straight(nodes: Nodes) -> tuple[Values, ...]:
            def run(inside: Values, *rest: Values) -> tuple[Array, ...]:
                return kernel(StraightRays(inside, nodes), *rest)

            return by_chunks(run, _CHUNK, sleeve_radius, *values)

        return _first_that_holds((narrow, lambda: straight(STRAIGHT_NODES)), (True, lambda: straight(WIDE_NODES)))
    emission = sleeve.emission

    def refracted(nodes: Nodes, *, bent: bool) -> tuple[Values, ...]:
        def run(
            inside: Values, wall: Values, quartz: Values, air: Values, n_quartz: Values, n_water: Values, *rest: Values
        ) -> tuple[Array, ...]:
            optics = SleeveOptics(wall, quartz, air, n_quartz, n_water, emission)
            return kernel(RefractedRays(inside, optics, bent=bent, nodes=nodes), *rest)

        return by_chunks(run, _CHUNK, sleeve_radius, *sleeve[:5], *values)

    bent: Any = (sleeve.n_quartz >= BENT * sleeve.n_air) & (sleeve.n_water >= BENT * sleeve.n_air)
    return _first_that_holds(
        (bent & narrow, lambda: refracted(BENT_NODES, bent=True)),
        (narrow, lambda: refracted(STRAIGHT_NODES, bent=False)),
        (bent, lambda: refracted(WIDE_NODES, bent=True)),
        (True, lambda: refracted(WIDE_NODES, bent=False)),
    )


def _first_that_holds(*ways: tuple[Any, Callable[[], tuple[Values, ...]]]) -> tuple[Values, ...]:
    """Calculate each case by the first method whose condition is true for it; the last condition is always true."""
    found: list[tuple[Any, tuple[Values, ...]]] = []
    for here, answer in ways:
        # True first: asking numpy about a flag costs as much as a sum over nodes.
        everywhere = here is True or bool(np.all(here))
        if everywhere or np.any(here):
            found.append((here, answer()))
        if everywhere:
            break
    _, answers = found.pop()
    for here, others in reversed(found):
        answers = tuple(np.where(here, other, one) for other, one in zip(others, answers, strict=True))
    return answers


def _cross(
    rays: Rays, ends: Array, sleeve_radius: Values, bore_radius: Values, steps: int
) -> tuple[Bundle, int, Array]:
    """Rays up to the one that meets the end wall ahead at the bore, and on to the one that meets it at the sleeve.

    With the number of the first, and the tangent at the lamp of the last.
    """
    outer, inner = rays.tangent(ends, stacked(bore_radius, sleeve_radius)[:, None], steps)
    angles, whole = rays.across(outer, inner)
    return rays.bundle(angles), whole, inner


def over_chamber(
    rays: Rays, absorption: Values, arc: Values, chamber: Values, sleeve_radius: Values, bore_radius: Values
) -> tuple[Array]:
    """Average over the water of the chamber.

    Source
    ------
    Derived here: the reduction in the notes of `fluence.chamber_average`.
    """
    ends = stacked(*_ends(arc, chamber, bore_radius))
    sheaf, whole, _ = _cross(rays, ends, sleeve_radius, bore_radius, _STEPS_OF_AVERAGE)
    terms, _, _ = _taken(absorption, bore_radius - sleeve_radius, 0.5 * (arc + chamber), ends, sheaf, whole)
    taken = sum_over_nodes(terms)
    return ((taken[0] - taken[1]) / (volume(bore_radius, sleeve_radius, chamber) * arc),)


def over_chamber_and_beside_arc(
    rays: Rays, absorption: Values, arc: Values, chamber: Values, sleeve_radius: Values, bore_radius: Values
) -> tuple[Array, ...]:
    """Average over the chamber; at the sleeve and at the bore at mid-arc; where the power goes.

    The last four are shares of the lamp's power: absorbed by the water, lost in the sleeve, received by the bore, lost
    through the end walls. Each is integrated separately, so their sum shows the error.

    Source
    ------
    Derived here: each share is an integral over the same rays.
    """
    gap = bore_radius - sleeve_radius
    ends = stacked(*_ends(arc, chamber, bore_radius), 0.5 * arc)
    sheaf, whole, last = _cross(rays, ends, sleeve_radius, bore_radius, STEPS)
    passed = np.exp(-(absorption * gap) * sheaf.secant)
    local = sheaf.weight[2] * sheaf.secant[2]
    to_ends = Bundle(*(values[:2] for values in sheaf))
    taken, to_entry, once = _taken(absorption, gap, 0.5 * (arc + chamber), ends[:2], to_ends, whole)
    terms = np.empty((6, *taken.shape))
    terms[0] = taken
    terms[1] = (to_ends.given - to_ends.weight) * to_entry
    terms[2] = to_ends.weight * (to_entry - gap * to_ends.tangent) * passed[:2]
    terms[2, :, whole:] = 0.0
    terms[3] = to_ends.weight * to_ends.sine * once
    terms[4] = to_ends.given * to_ends.entry
    terms[5, 0], terms[5, 1] = local, local * passed[2]
    terms[5, 1, whole:] = 0.0
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


def _taken(
    absorption: Values, gap: Values, farthest: Values, ends: Array, sheaf: Bundle, whole: int
) -> tuple[Array, Array, Array]:
    """Absorbed share over absorption, summed over the lamp points from the end wall to each end: its terms.

    With the lamp points before the entry [m], and the integral of the transmitted share along the path [m].
    """
    to_entry = ends - sheaf.entry
    way = gap * sheaf.secant
    np.divide(to_entry[:, whole:], sheaf.sine[:, whole:], out=way[:, whole:])
    once, twice = absorbed_along(absorption, way, gap + farthest)
    terms = np.multiply(sheaf.sine, twice, out=twice)
    terms[:, :whole] += (to_entry[:, :whole] - gap * sheaf.tangent[:, :whole]) * once[:, :whole]
    return terms * sheaf.weight, to_entry, once


def absorbed_along(absorption: Values, way: Array, longest: Values) -> tuple[Array, Array]:
    """Integral of exp(-absorption s) over a way, and the integral of that: way and way²/2 in clear water.

    Source
    ------
    Derived here: the integrals in closed form; a series where little is absorbed.
    """
    small = absorption * longest < _SERIES_BELOW
    # One case first, here too.
    if small is False or not np.any(small):
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
    once = -absorption * way
    np.expm1(once, out=once)
    once *= -inverse
    twice = way - once
    twice *= inverse
    return once, twice


def along_line(
    rays: Rays, absorption: Values, arc: Values, chamber: Values, sleeve_radius: Values, radius: Values
) -> tuple[Array]:
    """Average from end wall to end wall at one radius.

    Source
    ------
    Derived here: the sum over lamp points in closed form.
    """
    gap = radius - sleeve_radius
    ends = stacked(0.5 * (chamber + arc), 0.5 * (chamber - arc))
    limit = np.arcsinh(rays.tangent(ends, radius))
    sheaf = rays.bundle(at_x(limit * _POINTS, limit * _WEIGHTS))
    lit = ends - sheaf.entry - gap * sheaf.tangent
    along = sum_over_nodes(sheaf.weight * sheaf.secant * np.exp(-(absorption * gap) * sheaf.secant) * lit)
    return ((along[0] - along[1]) / (2.0 * np.pi * arc * chamber * radius),)


def at_point(
    rays: Rays, absorption: Values, arc: Values, position: Values, sleeve_radius: Values, radius: Values
) -> tuple[Array]:
    """At one radius and one distance from the middle of the arc.

    Source
    ------
    Derived here: the sum over lamp points with the tangent as sinh x.
    """
    gap = radius - sleeve_radius
    away = abs(position)
    far, near = 0.5 * arc + away, 0.5 * arc - away
    limits = np.arcsinh(rays.tangent(stacked(far, abs(near)), radius))
    # Beside the arc the two sides add up. Past its end only the angles between its ends are included.
    past = near < 0.0
    lower = limits[1] * past
    start, width = stacked(lower, 0.0), stacked(limits[0] - lower, limits[1] - lower)
    sheaf = rays.bundle(at_x(start + width * _POINTS, width * _WEIGHTS))
    pieces = sum_over_nodes(sheaf.weight * sheaf.secant * np.exp(-(absorption * gap) * sheaf.secant))
    return ((pieces[0] + pieces[1]) / (4.0 * np.pi * arc * radius),)


def stacked(*values: Values) -> Array:
    """Stack values of each case as (value, 1, case).

    Source
    ------
    Definition: an arrangement, without a formula.
    """
    sizes = [value.size for value in values if isinstance(value, np.ndarray)]
    rows = np.empty((len(values), 1, max(sizes, default=1)))
    for row, value in zip(rows, values, strict=True):
        row[0] = value
    return rows
