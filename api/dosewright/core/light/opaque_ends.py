"""Integrals for any arc and chamber, even an arc longer than the chamber: end plates block all light.

The sleeve continues through the plates, so light from the lamp behind them still enters along its inside. A ray is
followed from where it enters the water, which must be between the plates, to the bore or to a plate. For a chamber at
least as long as the arc these are the integrals of `lamp_integrals` on fewer nodes, which streamlines use.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from dosewright.core.arrays import Array, Values, sum_over_nodes
from dosewright.core.hydraulics.annulus import volume
from dosewright.core.light.lamp_angles import Angles, at_x, gauss_legendre
from dosewright.core.light.lamp_integrals import absorbed_along, stacked
from dosewright.core.light.optics import Rays

__all__ = ["along_line", "at_point", "over_short_chamber"]

_NO_GAP: Final = 1e-30  # keeps the slope of a ray without a way through the water finite, and that way itself
_POINTS, _WEIGHTS = gauss_legendre(16)
_LOCAL_POINTS, _LOCAL_WEIGHTS = gauss_legendre(32)


def _pieces(*ends: Array) -> Angles:
    """Nodes between 0 and rising x, one block of nodes a piece."""
    start = 0.0 * ends[0]
    points: list[Array] = []
    steps: list[Array] = []
    for end in ends:
        points.append(start + (end - start) * _POINTS)
        steps.append((end - start) * _WEIGHTS)
        start = end
    return at_x(np.concatenate(points), np.concatenate(steps))


def _turns(rays: Rays, arc: Values, chamber: Values, sleeve_radius: Values, gap: Values, radius: Values) -> Array:
    """X at which a line at a radius: is met from the near end of the arc, from the far end, across a whole chamber.

    Where the arc is longer than the chamber the first is where rays of its far end enter at the plate behind.
    """
    long_arc = arc > chamber
    excess = stacked(0.5 * abs(chamber - arc))
    near = rays.tangent(excess, np.where(long_arc, sleeve_radius, radius))
    far = rays.tangent(stacked(0.5 * (chamber + arc)), radius)
    across = rays.tangent_of_slope(stacked(chamber / np.maximum(gap, _NO_GAP)))
    shape = np.broadcast_shapes(near.shape, far.shape, across.shape)
    return np.arcsinh(np.stack([np.broadcast_to(one, shape)[0] for one in (near, far, across)]))


def along_line(
    rays: Rays, absorption: Values, arc: Values, chamber: Values, sleeve_radius: Values, radius: Values
) -> tuple[Array]:
    """Average from end plate to end plate at one radius.

    Source
    ------
    Derived here: as for `lamp_integrals.along_line`, between end plates.
    """
    gap = radius - sleeve_radius
    first, far, across = _turns(rays, arc, chamber, sleeve_radius, gap, radius)
    last = np.minimum(far, across)
    sheaf = rays.bundle(_pieces(np.minimum(first, last), last))
    slope = gap * sheaf.tangent
    lit = np.minimum(np.minimum(chamber, 0.5 * (chamber + arc) - sheaf.entry) - slope, arc)
    terms = sheaf.weight * sheaf.secant * np.exp(-(absorption * gap) * sheaf.secant) * lit
    return (sum_over_nodes(terms) / (2.0 * np.pi * arc * chamber * radius),)


def at_point(
    rays: Rays,
    absorption: Values,
    arc: Values,
    chamber: Values,
    position: Values,
    sleeve_radius: Values,
    radius: Values,
) -> tuple[Array]:
    """At one radius and one distance from the middle of a chamber shorter than the arc, between its plates.

    Source
    ------
    Derived here: as for `lamp_integrals.at_point`, between end plates.
    """
    gap = np.maximum(radius - sleeve_radius, _NO_GAP)
    away = abs(position)
    ends = stacked(0.5 * arc + away, 0.5 * arc - away)
    behind = stacked((0.5 * chamber + away) / gap, np.maximum(0.5 * chamber - away, 0.0) / gap)
    limit = np.arcsinh(np.minimum(rays.tangent(ends, radius), rays.tangent_of_slope(behind)))
    sheaf = rays.bundle(at_x(limit * _LOCAL_POINTS, limit * _LOCAL_WEIGHTS))
    pieces = sum_over_nodes(sheaf.weight * sheaf.secant * np.exp(-(absorption * gap) * sheaf.secant))
    return ((pieces[0] + pieces[1]) / (4.0 * np.pi * arc * radius),)


def over_short_chamber(
    rays: Rays, absorption: Values, arc: Values, chamber: Values, sleeve_radius: Values, bore_radius: Values
) -> tuple[Array, ...]:
    """Average over a chamber shorter than the arc, and where the power goes.

    The shares of the lamp's power: absorbed by the water, lost in the sleeve, received by the bore, lost through or
    past the end plates.

    Source
    ------
    Derived here: as for `lamp_integrals.over_chamber_and_beside_arc`, between end plates.
    """
    gap = bore_radius - sleeve_radius
    first, far, across = _turns(rays, arc, chamber, sleeve_radius, gap, bore_radius)
    cut = np.minimum(far, across)
    farthest = 0.5 * (chamber + arc)
    last = rays.tangent(stacked(farthest), sleeve_radius)[0]
    sheaf = rays.bundle(_pieces(np.minimum(first, cut), np.maximum(first, cut), np.arcsinh(last)))
    entered = np.minimum(farthest - sheaf.entry, chamber)
    reach = np.minimum(gap * sheaf.tangent, entered)
    once, twice = absorbed_along(absorption, reach / np.maximum(sheaf.sine, _NO_GAP), gap + farthest)
    weight, given = sheaf.weight, sheaf.given
    taken = weight * (sheaf.sine * twice + (entered - reach) * once)
    kept = (given - weight) * entered
    met = weight * (entered - reach) * np.exp(-(absorption * gap) * sheaf.secant)
    lost = weight * sheaf.sine * once + given * (arc - entered)
    shares = sum_over_nodes(np.stack(np.broadcast_arrays(taken, kept, met, lost))) / arc
    return (
        shares[0] / volume(bore_radius, sleeve_radius, chamber),
        absorption * shares[0],
        shares[1],
        shares[2],
        shares[3] + rays.beyond(last[0]),
    )
