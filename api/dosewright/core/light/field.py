"""The light in one coaxial chamber by any of the field models: average, line, point, energy balance.

Four models share one shape. ``radial``: an infinitely long lamp with rays straight outwards. The plain line: straight
rays of a finite lamp. The refracted line, isotropic or cosine: rays refracted and weakened at the sleeve. A bore that
reflects like a mirror is unfolded: reflected light crosses the gap as if it continued to the radius 2 bore - sleeve.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.hydraulics import annulus
from dosewright.core.light import fluence, lamp_integrals, opaque_ends
from dosewright.core.light.optics import SleeveOptics

__all__ = ["EnergyBalance", "Field"]


class EnergyBalance(NamedTuple):
    """Where the lamp's power goes, as shares.

    Attributes
    ----------
    sleeve : float or array
        Reflected at its faces, absorbed in its quartz, or reflected back to it by the bore. [-]
    water : float or array
        Absorbed by the water. [-]
    wall : float or array
        Absorbed by the bore. [-]
    ends : float or array
        Lost through the end plates or emitted past them. [-]
    """

    sleeve: Values
    water: Values
    wall: Values
    ends: Values

    @property
    def total(self) -> Values:
        """Sum of the shares: 1 except for the error of the integrals, since each share is integrated separately."""
        return self.sleeve + self.water + self.wall + self.ends


class Field(NamedTuple):
    """A lamp on the axis of a chamber.

    Attributes
    ----------
    arc_length, chamber_length, sleeve_radius, bore_radius : float or array
        Sizes. [m]
    sleeve : SleeveOptics or None
        Sleeve of the refracted models.
    passed : float or array
        Factor of the power before it enters the water: the sleeve transmittance of the radial model and of
        the plain line, 1 where the sleeve is part of the model. [-]
    radial : bool
        Whether all rays run straight outwards.
    wall_reflectance : float or array or None
        Share of the light that the bore reflects, once and like a mirror; light that returns to the sleeve is
        lost there. [-]
    """

    arc_length: Values
    chamber_length: Values
    sleeve_radius: Values
    bore_radius: Values
    sleeve: SleeveOptics | None = None
    passed: Values = 1.0
    radial: bool = False
    wall_reflectance: Values | None = None

    @property
    def volume(self) -> Values:
        """Water volume [m³]."""
        return annulus.volume(self.bore_radius, self.sleeve_radius, self.chamber_length)

    @property
    def _unfolded(self) -> Values:
        return 2.0 * self.bore_radius - self.sleeve_radius

    def average(self, power: Values, absorption: Values) -> Values:
        """Fluence rate averaged over the water.

        Parameters
        ----------
        power : float or array
            UV-C output of the lamp before the sleeve. [W]
        absorption : float or array
            Absorption coefficient of the water, base e. [1/m]

        Returns
        -------
        float or array
            Chamber average. [W/m²]

        Raises
        ------
        ValueError
            A value is not a number or not possible.
        """
        first = self._average(power * self.passed, absorption, self.bore_radius)
        if self.wall_reflectance is None:
            return first
        second = self._average(power * self.passed, absorption, self._unfolded)
        wider = annulus.volume(self._unfolded, self.sleeve_radius, self.chamber_length)
        return first + self.wall_reflectance * (second * (wider / self.volume) - first)

    def _average(self, power: Values, absorption: Values, bore_radius: Values) -> Values:
        if self.radial:
            return power * self._lit * _radial_average(absorption, self.sleeve_radius, bore_radius, self.chamber_length)

        def long(arc: Values, chamber: Values) -> tuple[Values, ...]:
            sizes = (arc, chamber, self.sleeve_radius, bore_radius)
            return (fluence.chamber_average(1.0, absorption, *sizes, self.sleeve),)

        def short(arc: Values, chamber: Values) -> tuple[Values, ...]:
            sizes = (absorption, arc, chamber, self.sleeve_radius, bore_radius)
            return lamp_integrals.over_cases(opaque_ends.over_short_chamber, self.sleeve_radius, self.sleeve, sizes)[:1]

        return power * self._by_length(long, short)[0]

    def rates_and_balance(self, power: Values, absorption: Values) -> tuple[fluence.ChamberFluenceRates, EnergyBalance]:
        """Chamber average, fluence rates at mid-arc, and where the power goes.

        Parameters
        ----------
        power : float or array
            UV-C output of the lamp before the sleeve. [W]
        absorption : float or array
            Absorption coefficient of the water, base e. [1/m]

        Returns
        -------
        tuple of ChamberFluenceRates and EnergyBalance
            [W/m²], [-]

        Raises
        ------
        ValueError
            A value is not a number or not possible.
        """
        into = power * self.passed
        average, at_sleeve, at_wall, water, kept, met, lost = self._everything(absorption, self.bore_radius)
        if self.wall_reflectance is not None:
            thrown = self.wall_reflectance
            outer = self._everything(absorption, self._unfolded)
            wider = annulus.volume(self._unfolded, self.sleeve_radius, self.chamber_length)
            average = average + thrown * (outer[0] * (wider / self.volume) - average)
            at_sleeve = at_sleeve + thrown * outer[2] * (self._unfolded / self.sleeve_radius)
            at_wall = at_wall * (1.0 + thrown)
            water = water + thrown * (outer[3] - water)
            lost = lost + thrown * (outer[6] - lost)
            kept = kept + thrown * outer[5]
            met = met * (1.0 - thrown)
        rates = fluence.ChamberFluenceRates(into * average, into * at_sleeve, into * at_wall)
        if self.sleeve is not None:
            return rates, EnergyBalance(kept, water, met, lost)
        inside = self.passed
        kept = 1.0 - inside + inside * kept
        return rates, EnergyBalance(kept, inside * water, inside * met, inside * lost)

    def _everything(self, absorption: Values, bore_radius: Values) -> tuple[Values, ...]:
        """Average, at the sleeve, at the bore; shares of water, sleeve, bore, ends: of unit power into the water."""
        if self.radial:
            average = _radial_average(absorption, self.sleeve_radius, bore_radius, self.chamber_length)
            left = np.exp(-absorption * (bore_radius - self.sleeve_radius))
            flux = 1.0 / (2.0 * np.pi * self.arc_length)
            sizes = annulus.volume(bore_radius, self.sleeve_radius, self.chamber_length)
            lit = self._lit
            shares = (lit * (absorption * average * sizes), 0.0 * lit, lit * left, 1.0 - lit)
            return (lit * average, flux / self.sleeve_radius, flux * left / bore_radius, *shares)

        def long(arc: Values, chamber: Values) -> tuple[Values, ...]:
            return fluence.chamber_shares(absorption, arc, chamber, self.sleeve_radius, bore_radius, self.sleeve)

        def short(arc: Values, chamber: Values) -> tuple[Values, ...]:
            sizes = (absorption, arc, chamber, self.sleeve_radius, bore_radius)
            over = lamp_integrals.over_cases(opaque_ends.over_short_chamber, self.sleeve_radius, self.sleeve, sizes)
            points = [
                lamp_integrals.over_cases(
                    opaque_ends.at_point,
                    self.sleeve_radius,
                    self.sleeve,
                    (absorption, arc, chamber, 0.0, self.sleeve_radius, radius),
                )[0]
                for radius in (self.sleeve_radius, bore_radius)
            ]
            return (over[0], *points, *over[1:])

        return self._by_length(long, short)

    @property
    def _lit(self) -> Values:
        """Share of the arc between the end plates."""
        return np.minimum(1.0, self.chamber_length / self.arc_length)

    def line(self, power: Values, absorption: Values, radius: Values) -> Values:
        """Fluence rate averaged from end plate to end plate at one radius [W/m²]; arguments as in `average`."""
        first = self._line(absorption, radius)
        if self.wall_reflectance is not None:
            mirrored = 2.0 * self.bore_radius - radius
            first = first + self.wall_reflectance * self._line(absorption, mirrored) * (mirrored / radius)
        return power * self.passed * first

    def _line(self, absorption: Values, radius: Values) -> Values:
        if self.radial:
            left = np.exp(-absorption * (radius - self.sleeve_radius))
            return self._lit * left / (2.0 * np.pi * self.chamber_length * radius)
        sizes = (absorption, self.arc_length, self.chamber_length, self.sleeve_radius, radius)
        return lamp_integrals.over_cases(opaque_ends.along_line, self.sleeve_radius, self.sleeve, sizes)[0]

    def point(self, power: Values, absorption: Values, radius: Values, position: Values) -> Values:
        """Fluence rate at a radius and a distance from the middle of the arc [W/m²]; arguments as in `average`."""
        refuse_unless(
            abs(position) <= 0.5 * self.chamber_length * (1.0 + 1e-12), "position must be between the end plates"
        )
        first = self._point(absorption, radius, position)
        if self.wall_reflectance is not None:
            mirrored = 2.0 * self.bore_radius - radius
            first = first + self.wall_reflectance * self._point(absorption, mirrored, position) * (mirrored / radius)
        return power * self.passed * first

    def _point(self, absorption: Values, radius: Values, position: Values) -> Values:
        if self.radial:
            left = np.exp(-absorption * (radius - self.sleeve_radius))
            beside: Any = 1.0 * (abs(position) <= 0.5 * self.arc_length)
            return beside * left / (2.0 * np.pi * self.arc_length * radius)

        def long(arc: Values, _chamber: Values) -> tuple[Values, ...]:
            return (fluence.fluence_rate(1.0, absorption, arc, self.sleeve_radius, radius, position, self.sleeve),)

        def short(arc: Values, chamber: Values) -> tuple[Values, ...]:
            place = (absorption, arc, chamber, position, self.sleeve_radius, radius)
            return lamp_integrals.over_cases(opaque_ends.at_point, self.sleeve_radius, self.sleeve, place)

        return self._by_length(long, short)[0]

    def _by_length(
        self,
        long: Callable[[Values, Values], tuple[Values, ...]],
        short: Callable[[Values, Values], tuple[Values, ...]],
    ) -> tuple[Values, ...]:
        """Choose by whether the chamber is at least as long as the arc, case by case."""
        arc, chamber = self.arc_length, self.chamber_length
        fits = np.asarray(chamber >= arc)
        if fits.all():
            return long(arc, chamber)
        if not fits.any():
            return short(arc, chamber)
        longs = long(arc, np.maximum(arc, chamber))
        shorts = short(np.where(fits, 2.0 * chamber, arc), chamber)
        return tuple(np.where(fits, one, other) for one, other in zip(longs, shorts, strict=True))


def _radial_average(absorption: Values, sleeve_radius: Values, bore_radius: Values, chamber_length: Values) -> Values:
    """Average of the radial model for unit power that enters the water along the chamber."""
    gap = bore_radius - sleeve_radius
    depth = absorption * gap
    small = depth < 1e-8
    straight = gap * (1.0 - 0.5 * depth)
    dimmed = gap * (0.0 - np.expm1(-depth)) / np.where(small, 1.0, depth)
    way: Any = np.where(small, straight, dimmed)
    return (way if np.ndim(way) else float(way)) / annulus.volume(bore_radius, sleeve_radius, chamber_length)
