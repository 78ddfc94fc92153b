"""Rays from a lamp on the axis, through air and quartz sleeve, into the water of a coaxial chamber."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, NamedTuple, Protocol, TypeAlias

import numpy as np

from dosewright.core.arrays import Array, Values, refuse_unless
from dosewright.core.light.lamp_angles import (
    BENT_NODES,
    STRAIGHT_NODES,
    Across,
    Angles,
    Nodes,
    across_bent,
    across_straight,
)

__all__ = [
    "BENT",
    "STEPS",
    "Bundle",
    "Emission",
    "Rays",
    "RefractedRays",
    "SleeveOptics",
    "StraightRays",
    "face_transmittance",
    "lossless_sleeve_transmittance",
    "normal_reflectance",
    "quartz_absorption",
]

BENT: Final = 1.2
"""Relative indices of quartz and water above which rays are treated as refracted, and need fewer nodes. [-]"""

STEPS: Final = 4
"""Newton's steps to a ray: after 1 to 5 steps the worst error of asinh(tangent) is 1e-1, 9e-3, 7e-5, 4e-9, 2e-15."""
_EARLY: Final = 0.7  # of the bend that tends to the right straight line; fitted for the smallest error after a step
_TINY: Final = 1e-30  # keeps the start finite where the indices are equal and the path is a straight line


def normal_reflectance(n_from: Values, n_to: Values) -> Values:
    """Share of light that a face reflects at normal incidence.

    Parameters
    ----------
    n_from, n_to : float or array
        Refractive indices before and behind the face. [-]

    Returns
    -------
    float or array
        Reflectance, ((n_to - n_from)/(n_to + n_from))². [-]

    Source
    ------
    Textbook form: Fresnel's equations.
    """
    ratio = (n_to - n_from) / (n_to + n_from)
    return ratio * ratio


def face_transmittance(n_from: Values, n_to: Values, cosine_from: Values, cosine_to: Values) -> Values:
    """Share of unpolarised light that passes one face, by Fresnel's equations.

    Parameters
    ----------
    n_from, n_to : float or array
        Refractive indices before and behind the face. [-]
    cosine_from, cosine_to : float or array
        Cosines of the angles to the normal before and behind the face. [-]

    Returns
    -------
    float or array
        Transmittance of power, mean of both polarisations. [-]

    Notes
    -----
    With p = n1 c1 and q = n2 c2, Ts = 4 p q/(p + q)² and Tp = 4 p q n1² n2²/(n2² p + n1² q)². Their mean is
    2 p q (h + d p q)/(h + p q)², h = (n2² p² + n1² q²)/(n1² + n2²) and d = (2 n1 n2/(n1² + n2²))²: the same as
    1 - (Rs + Rp)/2, without the loss of digits where little passes.

    Source
    ------
    Textbook form: Fresnel's equations; the form in the notes was derived here.
    """
    before, behind = n_from * cosine_from, n_to * cosine_to
    product = before * behind
    from_square, to_square = n_from * n_from, n_to * n_to
    mixed = (to_square * before * before + from_square * behind * behind) / (from_square + to_square)
    total = mixed + product
    return 2.0 * product * (mixed + _likeness(from_square, to_square) * product) / (total * total)


def _likeness(square: Values, other_square: Values) -> Values:
    """Return the d of `face_transmittance` from the squares of two indices: 1 where they are equal."""
    total = square + other_square
    return 4.0 * square * other_square / (total * total)


def lossless_sleeve_transmittance(n_air: Values, n_quartz: Values) -> Values:
    """Transmittance of one dry sleeve wall without absorption: the highest of a sleeve in air.

    Parameters
    ----------
    n_air, n_quartz : float or array
        Refractive indices at 254 nm. [-]

    Returns
    -------
    float or array
        (1 - R0)², R0 the reflectance of one face at normal incidence; 0.920 for fused silica. [-]

    Source
    ------
    Derived here: two faces by `normal_reflectance`, light reflected inside the wall left out.
    """
    passed = 1.0 - normal_reflectance(n_air, n_quartz)
    return passed * passed


def quartz_absorption(sleeve_transmittance: Values, sleeve_wall: Values, n_air: Values, n_quartz: Values) -> Values:
    """Absorption coefficient of the quartz, from the transmittance of a dry sleeve wall.

    Parameters
    ----------
    sleeve_transmittance : float or array
        Share of 254 nm light that passes one wall of the clean, dry sleeve in air at normal incidence. [-]
    sleeve_wall : float or array
        Wall thickness. [m]
    n_air, n_quartz : float or array
        Refractive indices at 254 nm. [-]

    Returns
    -------
    float or array
        Absorption coefficient, base e. [1/m]

    Raises
    ------
    ValueError
        The transmittance is not above zero, or exceeds that of a lossless wall; or the wall is not above zero.

    Notes
    -----
    exp(-aq wall) = transmittance/(1 - R0)²: one pass, both face losses removed, reflected light ignored.

    Source
    ------
    Derived here: the Beer-Lambert law without the losses at both faces.
    """
    lossless = lossless_sleeve_transmittance(n_air, n_quartz)
    refuse_unless(sleeve_wall > 0.0, "sleeve wall must be above zero")
    refuse_unless(
        (sleeve_transmittance > 0.0) & (sleeve_transmittance <= lossless),
        "sleeve transmittance must be above zero and at most that of a lossless wall",
    )
    return np.log(lossless / sleeve_transmittance) / sleeve_wall


Emission: TypeAlias = Literal["isotropic", "cosine"]
"""How a lamp shines: alike in all directions, or by the cosine of the angle to its normal."""


class SleeveOptics(NamedTuple):
    """A quartz sleeve of the refracted model; fields can be arrays.

    Attributes
    ----------
    wall : float or array
        Wall thickness. [m]
    absorption : float or array
        Absorption coefficient of the quartz at 254 nm, base e. [1/m]
    n_air, n_quartz, n_water : float or array
        Refractive indices at 254 nm. [-]
    emission : {"isotropic", "cosine"}
        Emission of the lamp: equal in all directions, or by the cosine of the angle to the lamp's normal.
    """

    wall: Values
    absorption: Values
    n_air: Values
    n_quartz: Values
    n_water: Values
    emission: Emission = "isotropic"

    def refuse_nonsense(self, sleeve_radius: Values) -> None:
        """Raise ValueError if the sleeve is impossible, or would reflect totally."""
        refuse_unless((self.wall >= 0.0) & (self.wall < sleeve_radius), "sleeve wall must be below the sleeve radius")
        refuse_unless(
            (self.absorption >= 0.0) & (self.absorption < np.inf), "quartz absorption must be zero or more, and finite"
        )
        refuse_unless(
            (self.n_air > 0.0)
            & (self.n_air <= self.n_quartz)
            & (self.n_air <= self.n_water)
            & (self.n_quartz < np.inf)
            & (self.n_water < np.inf),
            "refractive indices of quartz and water must not be below that of air",
        )
        if self.emission not in ("isotropic", "cosine"):
            raise ValueError("emission must be 'isotropic' or 'cosine'")


class Bundle(NamedTuple):
    """Rays at the nodes of one integral.

    Attributes
    ----------
    weight : array
        Share of the lamp's power that enters the water, both axial directions together. [-]
    given : array
        Share that leaves the lamp, likewise. [-]
    sine, tangent, secant : array
        Of the angle in the water, to the normal of the axis. [-]
    entry : array
        Axial distance from the lamp point to where the ray enters the water. [m]
    """

    weight: Array
    given: Array
    sine: Array
    tangent: Array
    secant: Array
    entry: Array


class Rays(Protocol):
    """Rays from the axis into the water."""

    def tangent(self, way: Array, radius: Values, steps: int = STEPS) -> Array:
        """Tangent at the lamp of the ray that reaches a radius after an axial distance [m]; at most this many steps."""
        ...

    def across(self, outer: Array, inner: Array) -> Across:
        """Nodes between 0 and two rising tangents at the lamp, as many as rays of this kind need."""
        ...

    def bundle(self, angles: Angles) -> Bundle:
        """Rays that leave the lamp at angles."""
        ...

    def tangent_of_slope(self, slope: Array) -> Array:
        """Tangent at the lamp of the ray with a slope (tangent) in the water; infinite where no ray has this slope."""
        ...

    def beyond(self, tangent: Array) -> Array:
        """Share of the lamp's power that leaves it above a tangent, both axial directions together."""
        ...


@dataclass(frozen=True, slots=True)
class StraightRays:
    """Rays of the plain line source: straight, without loss up to the sleeve's outer face."""

    sleeve_radius: Values
    nodes: Nodes = STRAIGHT_NODES

    def tangent(self, way: Array, radius: Values, steps: int = STEPS) -> Array:
        """Tangent at the lamp of the ray that reaches a radius after an axial way [m]."""
        del steps
        return way / radius

    def across(self, outer: Array, inner: Array) -> Across:
        """Nodes between 0 and two rising tangents at the lamp."""
        return across_straight(outer, inner, self.nodes)

    def bundle(self, angles: Angles) -> Bundle:
        """Rays that leave the lamp at angles."""
        tangent, cosine, share = angles
        return Bundle(share, share, tangent * cosine, tangent, 1.0 / cosine, self.sleeve_radius * tangent)

    def tangent_of_slope(self, slope: Array) -> Array:
        """Tangent at the lamp of the ray with a slope (tangent) in the water."""
        return slope

    def beyond(self, tangent: Array) -> Array:
        """Share of the lamp's power that leaves it above a tangent, both axial directions together."""
        return _isotropic_beyond(tangent)


class RefractedRays:
    """Rays refracted and weakened at both faces of the sleeve (Snell, first-pass Fresnel) and absorbed in its quartz.

    Light reflected into the sleeve is ignored, which slightly underestimates.
    """

    __slots__ = (
        "_bend_quartz", "_bend_water", "_bent", "_inner_radius", "_nodes", "_sleeve", "_sleeve_radius", "_spread",
        "_spread_water",
    )  # fmt: skip

    def __init__(
        self, sleeve_radius: Values, sleeve: SleeveOptics, *, bent: bool = True, nodes: Nodes = BENT_NODES
    ) -> None:
        self._sleeve = sleeve
        self._sleeve_radius = sleeve_radius
        self._bent = bent
        self._nodes = nodes
        self._inner_radius = sleeve_radius - sleeve.wall
        self._bend_quartz = sleeve.n_air / sleeve.n_quartz
        self._bend_water = sleeve.n_air / sleeve.n_water
        self._spread = 1.0 - self._bend_quartz * self._bend_quartz
        self._spread_water = 1.0 - self._bend_water * self._bend_water

    def across(self, outer: Array, inner: Array) -> Across:
        """Nodes between 0 and two rising tangents at the lamp."""
        return (across_bent if self._bent else across_straight)(outer, inner, self._nodes)

    def tangent(self, way: Array, radius: Values, steps: int = STEPS) -> Array:
        """Tangent at the lamp of the ray that reaches a radius after an axial way [m].

        Newton's steps; on a rising, concave function they come from below whatever the start. It solves
        inner t + (quartz + water) t/(1 + bend t), which has the slope at zero and, but for the fitted factor in the
        bend, the straight line that the way runs up to.
        """
        inner = self._inner_radius
        quartz = self._sleeve.wall * self._bend_quartz
        water = (radius - self._sleeve_radius) * self._bend_water
        run_up = quartz / np.sqrt(self._spread + _TINY) + water / np.sqrt(self._spread_water + _TINY)
        bend = _EARLY * (quartz + water) / (run_up + _TINY)
        half = 0.5 * (inner + quartz + water - bend * way)
        tangent = way / (half + np.sqrt(half * half + bend * inner * way))
        # Quartz and water as two layers of one array, full size: stretching it in every step would double its cost.
        straight, spread = np.empty((2, *tangent.shape)), np.empty((2, *tangent.shape))
        straight[0], straight[1] = quartz, water
        spread[0], spread[1] = self._spread, self._spread_water
        for _ in range(steps):
            grown = spread * (tangent * tangent)
            grown += 1.0
            part = straight / np.sqrt(grown)
            reached = tangent * (part[0] + part[1] + inner)
            part /= grown
            tangent = tangent + (way - reached) / (part[0] + part[1] + inner)
        return tangent

    def bundle(self, angles: Angles) -> Bundle:
        """Rays that leave the lamp at angles."""
        tangent, cosine, given = angles
        sleeve = self._sleeve
        quartz, water = sleeve.n_quartz / sleeve.n_air, sleeve.n_water / sleeve.n_air
        quartz_square, water_square = quartz * quartz, water * water
        square = cosine * cosine
        sine = tangent * cosine
        # Cosines in quartz and water times the indices over that of air, by Snell's law.
        in_quartz = np.sqrt(square + (quartz_square - 1.0))
        in_water = np.sqrt(square + (water_square - 1.0))
        if sleeve.emission == "cosine":
            given = given * cosine * (4.0 / np.pi)
        # Both faces by the formula of `face_transmittance`, in place and with one division.
        both = quartz_square + water_square
        product, mixed = cosine * in_quartz, square + (quartz_square - 1.0) / (quartz_square + 1.0)
        weight = product * _likeness(1.0, quartz_square)
        weight += mixed
        weight *= product
        mixed += product
        weight *= given
        np.multiply(in_quartz, in_water, out=product)
        square += 2.0 * quartz_square * water_square / both - 1.0
        weight *= product
        mixed *= square + product
        product *= _likeness(quartz_square, water_square)
        product += square
        weight *= product
        mixed *= mixed
        weight /= mixed
        thickness = np.divide(sleeve.wall, in_quartz, out=in_quartz)
        # Not in place: the quartz's absorption does not affect the rays, and can be an array when the geometry is not.
        weight = weight * (4.0 * np.exp(-(sleeve.absorption * quartz) * thickness))
        entry = self._inner_radius * tangent
        thickness *= sine
        entry += thickness
        secant = np.divide(water, in_water, out=in_water)
        sine *= self._bend_water
        return Bundle(weight, given, sine, sine * secant, secant, entry)

    def tangent_of_slope(self, slope: Array) -> Array:
        """Tangent at the lamp of the ray with a slope (tangent) in the water; infinite where no ray has this slope."""
        sine = slope / np.sqrt(1.0 + slope * slope) / self._bend_water
        return sine / np.sqrt(np.maximum(1.0 - sine * sine, 0.0) + _TINY * _TINY)

    def beyond(self, tangent: Array) -> Array:
        """Share of the lamp's power that leaves it above a tangent, both axial directions together."""
        if self._sleeve.emission == "isotropic":
            return _isotropic_beyond(tangent)
        return (2.0 / np.pi) * (np.arctan2(1.0, tangent) - tangent / (1.0 + tangent * tangent))


def _isotropic_beyond(tangent: Array) -> Array:
    hypotenuse = np.sqrt(1.0 + tangent * tangent)
    return 1.0 / (hypotenuse * (hypotenuse + tangent))
