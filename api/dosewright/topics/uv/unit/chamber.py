"""The chamber and its light by any field model, as the ultraviolet calculations share them."""

from functools import cache
from typing import Any, Protocol

import numpy as np

from dosewright.core.constants import CENTIMETRE
from dosewright.core.hydraulics import annulus
from dosewright.core.light import dose, optics
from dosewright.core.light.field import Field
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.tables.ultraviolet import plausible_limit

__all__ = [
    "CAUTIONS",
    "NOT_VALIDATED",
    "ONLY_A_MISS",
    "ChamberFields",
    "LampFields",
    "OpticsFields",
    "SizeFields",
    "add_basis_of_field_model",
    "add_basis_of_lamp",
    "field_by_model",
    "field_of",
    "lamp_power",
    "most_through_sleeve",
    "refuse_impossible_chamber",
    "refuse_impossible_sleeve",
    "warn_lamp",
]

CAUTIONS = ("uvc_eyes_skin", "mains_near_water", "pressure", "lamp_mercury", "local_rules")
_SIZE_NAMES = ("arc_length", "chamber_length", "sleeve_outer_diameter", "chamber_bore")
ONLY_A_MISS = np.array([None, False], dtype=object)
"""Verdict without hydraulics, by whether even the mean dose misses the target."""

NOT_VALIDATED = (
    "a calculated dose, never a validated one: it earns no treatment credit (40 CFR 141.720(d) requires a "
    "validated, monitored reactor) and is no certificate"
)

_REFRACTED_LINE = Basis(
    method=(
        "refracted_line: isotropic line lamp; Snell refraction and first-pass Fresnel reflection from air to "
        "quartz and quartz to water; absorption on the slanted path through quartz and water; averaged over "
        "the chamber in one integral"
    ),
    source="line source integration: Blatchley (1997), Water Research 31(9), from memory; refraction at the sleeve: "
    "Liu, Ducoste, Jin and Linden (2004), from memory; chamber average derived for Dosewright and checked against the "
    "threefold sum over lamp and water",
    validity=(
        "lamp centred, chamber at least as long as the arc, no light reflected by the chamber; integral "
        "accurate to 1e-6 for bores up to ten times the sleeve's diameter"
    ),
)
_LINE_SOURCE = Basis(
    method=(
        "line_source: isotropic line lamp, straight rays, UV-C output times sleeve transmittance, averaged "
        "over the chamber in one integral"
    ),
    source="line source integration: Blatchley (1997), Water Research 31(9), from memory; chamber average derived for "
    "Dosewright and checked against the threefold sum over lamp and water",
    validity=(
        "as refracted_line, but without refraction and slant losses at the sleeve: overestimates by 8 to 50 "
        "%, most in clear water and narrow gaps"
    ),
)
_COSINE = Basis(
    method="cosine_segments: as refracted_line, for a lamp with cosine emission (by the angle to its normal)",
    source=(
        "Liu, Ducoste, Jin and Linden (2004), from memory; the sum over segments taken to its limit, one "
        "integral, derived for Dosewright"
    ),
    validity="as refracted_line; the chamber average differs from it by a few percent at most",
)
_RADIAL = Basis(
    method=(
        "radial: all rays leave the arc straight outwards; UV-C output times sleeve transmittance, absorbed on the way"
    ),
    source="radial model, textbook; the energy is right by construction, the field is not",
    validity="a rough check: usually underestimates in clear water and narrow gaps; no light is lost at the ends",
)
_REFLECTING = Basis(
    method=(
        "wall_reflectance: light reflected by the wall, once and like a mirror, crosses the water again; "
        "light that returns to the sleeve is lost"
    ),
    source="unfolding the chamber at its wall, derived for Dosewright",
    validity=(
        "clean, smooth walls; figures for steel and PTFE vary with finish, film and age: omit it to be on the safe side"
    ),
)

_LAMP = Basis(
    method=(
        "lamp output = uvc_output x lamp_ageing_factor x output_factor; no relation to water temperature or "
        "time since switching on is built in"
    ),
    source=(
        "each type of low-pressure lamp has its own optimum water temperature (Water Supply 22(1), 2022, "
        "abstract): table uv_lamp_output"
    ),
    validity=(
        "uvc_output of the warmed-up lamp in this water, or an output_factor from its maker's curve "
        "measured in water (ÖNORM M 5873-1 and DIN 19294-1, 2020, say how). Output is lower in colder or "
        "hotter water, and in the first minutes"
    ),
)
_WIDEST = 10.0  # bore over sleeve, up to which the light along single streamlines was tested
_WIDE = (
    "The bore is more than ten times the sleeve's diameter, which is wider than household chambers. Averages "
    "over a chamber at least as long as the arc stay accurate to 1e-6 up to 200 times. Light along single "
    "streamlines, and in a chamber shorter than the arc, has an error of up to 1e-3 at 50 times and 1e-2 at 200 "
    "times."
)

_MODELS = {
    "refracted_line": _REFRACTED_LINE,
    "cosine_segments": _COSINE,
    "line_source": _LINE_SOURCE,
    "radial": _RADIAL,
}
_ERROR_STEP, _MOST_ERROR = 2.0, 100.0  # of the plain line source [%]
_REFRACTED: dict[str, optics.Emission] = {"refracted_line": "isotropic", "cosine_segments": "cosine"}


class OpticsFields(Protocol):
    """Fields that describe how light passes through the sleeve."""

    @property
    def field_model(self) -> str:
        """How light spreads."""
        ...

    @property
    def sleeve_transmittance(self) -> Numbers:
        """Transmittance of one dry wall [-]."""
        ...

    @property
    def sleeve_wall(self) -> Numbers:
        """Wall [m]."""
        ...

    @property
    def wall_reflectance(self) -> Numbers | None:
        """Share that the wall reflects [-]."""
        ...

    @property
    def n_air(self) -> Numbers:
        """Refractive index [-]."""
        ...

    @property
    def n_quartz(self) -> Numbers:
        """Refractive index [-]."""
        ...

    @property
    def n_water(self) -> Numbers:
        """Refractive index [-]."""
        ...


class LampFields(Protocol):
    """Fields for the output of the lamp."""

    @property
    def uvc_output(self) -> Numbers:
        """Output of the new lamp [W]."""
        ...

    @property
    def lamp_ageing_factor(self) -> Numbers:
        """Lamp ageing factor [-]."""
        ...

    @property
    def sleeve_fouling_factor(self) -> Numbers:
        """Sleeve fouling factor [-]."""
        ...

    @property
    def output_factor(self) -> Numbers | None:
        """Output factor [-]."""
        ...


class SizeFields(Protocol):
    """Sizes of a chamber, where they are known."""

    @property
    def chamber_bore(self) -> Numbers | None:
        """Bore [m]."""
        ...

    @property
    def sleeve_outer_diameter(self) -> Numbers | None:
        """Outer diameter [m]."""
        ...

    @property
    def sleeve_wall(self) -> Numbers:
        """Wall [m]."""
        ...

    @property
    def arc_length(self) -> Numbers | None:
        """Arc length [m]."""
        ...

    @property
    def chamber_length(self) -> Numbers | None:
        """Chamber length [m]."""
        ...

    @property
    def opaque_ends(self) -> bool:
        """Whether the lamp can continue behind the end plates."""
        ...


class ChamberFields(OpticsFields, SizeFields, Protocol):
    """Fields of a chamber and its sleeve."""


def field_of(
    ask: OpticsFields,
    arc_length: Numbers,
    chamber_length: Numbers,
    sleeve_outer_diameter: Numbers,
    chamber_bore: Numbers,
) -> Field:
    """Build the field of a chamber from its sizes and the fields of its optics."""
    return field_by_model(ask.field_model, ask, arc_length, chamber_length, sleeve_outer_diameter, chamber_bore)


def field_by_model(
    field_model: str,
    ask: OpticsFields,
    arc_length: Numbers,
    chamber_length: Numbers,
    sleeve_outer_diameter: Numbers,
    chamber_bore: Numbers,
) -> Field:
    """Like `field_of`, with a chosen model."""
    sizes = (arc_length, chamber_length, 0.5 * sleeve_outer_diameter, 0.5 * chamber_bore)
    if field_model in _REFRACTED:
        quartz = optics.quartz_absorption(ask.sleeve_transmittance, ask.sleeve_wall, ask.n_air, ask.n_quartz)
        emission = _REFRACTED[field_model]
        sleeve = optics.SleeveOptics(ask.sleeve_wall, quartz, ask.n_air, ask.n_quartz, ask.n_water, emission)
        return Field(*sizes, sleeve, 1.0, radial=False, wall_reflectance=ask.wall_reflectance)
    radial = field_model == "radial"
    return Field(*sizes, None, ask.sleeve_transmittance, radial, ask.wall_reflectance)


def add_basis_of_field_model(ask: OpticsFields, notes: Notes, field: str) -> None:
    """Add the basis of the field model, and warn how wrong a plain one is in this chamber."""
    notes.add_basis(_MODELS[ask.field_model], _LAMP)
    if ask.wall_reflectance is not None:
        notes.add_basis(_REFLECTING)
        steel = plausible_limit("steel_reflectance")
        message = (
            f"This is above the {100.0 * steel:g} % that stainless steel reflects at 254 nm. Only polished "
            "aluminium or PTFE reflects more, and both lose reflectance with deposits. Dose and flow would be "
            "overestimated."
        )
        notes.warn("reflectance_above_steel", "wall_reflectance", message, when=ask.wall_reflectance > steel)
    bore, outer = getattr(ask, "chamber_bore", None), getattr(ask, "sleeve_outer_diameter", None)
    if ask.field_model != "radial" and bore is not None and outer is not None:
        notes.warn("wide_chamber", "chamber_bore", _WIDE, when=bore > _WIDEST * outer)
    if ask.field_model == "line_source":
        _warn_plain_line(ask, field, notes)
    if ask.field_model == "radial":
        message = (
            "The radial model is only a rough check. It ignores refraction at the sleeve, and light that spreads "
            "past the arc. Use refracted_line for a decision."
        )
        notes.warn("radial_model", field, message)


def _warn_plain_line(ask: Any, field: str, notes: Notes) -> None:
    """Warn which way the plain line source is wrong in this chamber and water, and by how much.

    The error is rounded to steps, so that a large batch has few texts and each is the same as in a single call.
    """
    begin = "The plain line source ignores refraction and reflection at the sleeve."
    end = "Use refracted_line for a decision."
    sizes: list[Any] = [getattr(ask, name, None) for name in _SIZE_NAMES]
    outside = ask.sleeve_transmittance > most_through_sleeve(ask, always=True)
    if any(size is None for size in sizes) or np.all(outside):
        message = f"{begin} Its error here cannot be computed. {end}"
        notes.warn("line_source_error", field, message)
        return
    absorption = dose.absorption_coefficient(ask.uvt, CENTIMETRE)
    plain, bent = (
        field_by_model(name, ask, *sizes).average(1.0, absorption) for name in ("line_source", "refracted_line")
    )
    error = np.asarray(100.0 * (plain / bent - 1.0))
    step = np.clip(np.floor(np.abs(error) / _ERROR_STEP), 0.0, _MOST_ERROR / _ERROR_STEP)
    signed = np.where(error < 0.0, -step - 1.0, step)
    for one in np.unique(signed[np.isfinite(signed)]):
        low = _ERROR_STEP * (one if one >= 0.0 else -one - 1.0)
        size = f"more than {low:g} %" if low >= _MOST_ERROR else f"{low:g} to {low + _ERROR_STEP:g} %"
        way = "high" if one >= 0.0 else "low"
        message = f"{begin} Here its fluence rate is {size} too {way}, compared with refracted_line. {end}"
        notes.warn("line_source_error", field, message, when=(signed == one)[()])


def add_basis_of_lamp(notes: Notes) -> None:
    """Add the basis of the lamp's output, where no field is computed."""
    notes.add_basis(_LAMP)


def lamp_power(ask: LampFields) -> Numbers:
    """UV-C output of the lamp now, after the deposit on its sleeve [W]."""
    power = ask.uvc_output * ask.lamp_ageing_factor * ask.sleeve_fouling_factor
    return power if ask.output_factor is None else power * ask.output_factor


def warn_lamp(uvc_output: Numbers, arc_length: Numbers, notes: Notes) -> None:
    """Warn if UV-C output per arc length is above that of lamps, or as high as their electrical power."""
    beyond = uvc_output > plausible_limit("high_output") * arc_length
    if beyond is not False:
        notes.warn("output_implausible", "uvc_output", _beyond_lamps(), when=beyond)
    household = plausible_limit("household_output")
    unusual = np.logical_and(uvc_output > household * arc_length, np.logical_not(beyond))
    message = (
        f"UV-C output per arc length is above the {household / 100.0:g} W/cm of household high-output lamps. Was "
        "electric power entered? Only 30 to 40 % of it leaves a lamp as UV-C. An amalgam lamp can have a higher "
        "output: check its data sheet."
    )
    notes.warn("output_like_electrical_power", "uvc_output", message, when=unusual[()])
    standard = plausible_limit("standard_electrical_power")
    either = np.logical_and(uvc_output > standard * arc_length, uvc_output <= household * arc_length)
    message = (
        f"UV-C output per arc length is above {standard / 100.0:g} W/cm. Only high-output lamps reach this. A "
        "standard lamp has this electrical power, but at most 0.2 W/cm of UV-C. Make sure that this is not the "
        "power on its label. If it is, dose and flow are about three times too high."
    )
    notes.warn("output_or_electrical_power", "uvc_output", message, when=either[()])


@cache
def _beyond_lamps() -> str:
    most = plausible_limit("high_output") / 100.0
    return (
        f"UV-C output per arc length is above {most:g} W/cm, the highest published for low-pressure high-output "
        "lamps (EPA 815-R-06-007, table 2.1, from memory). No such lamp is known, and dose and flow would be "
        "overestimated by the same factor. Was electric power entered, the output of several lamps or of a "
        "medium-pressure lamp, or another unit?"
    )


def refuse_impossible_chamber(ask: SizeFields, notes: Notes) -> None:
    """Refuse a sleeve wider than the bore, a wall thicker than the sleeve, a chamber shorter than the arc."""
    outer = ask.sleeve_outer_diameter
    if outer is not None:
        message = "The sleeve wall must be thinner than half the sleeve's outer diameter."
        notes.refuse("sleeve_impossible", "sleeve_wall", message, when=2.0 * ask.sleeve_wall >= outer)
        if ask.chamber_bore is not None:
            message = (
                "The sleeve must be narrower than the chamber bore. Both are diameters, and the water runs "
                "between them."
            )
            notes.refuse("chamber_impossible", "sleeve_outer_diameter", message, when=outer >= ask.chamber_bore)
            thinnest = (1.0 - annulus.THINNEST_GAP) * ask.chamber_bore
            message = "The gap must be at least one thousandth of the bore's radius. Thinner gaps are not computed."
            too_thin = (outer < ask.chamber_bore) & (outer > thinnest)
            notes.refuse("gap_too_thin", "sleeve_outer_diameter", message, when=too_thin)
    if ask.arc_length is not None and ask.chamber_length is not None and not ask.opaque_ends:
        message = (
            "The chamber must be at least as long as the arc. If the lamp continues behind end plates, set opaque_ends."
        )
        notes.refuse("chamber_too_short", "chamber_length", message, when=ask.chamber_length < ask.arc_length)


def most_through_sleeve(ask: OpticsFields, *, always: bool = False) -> Numbers:
    """Return the highest transmittance of a sleeve: that of its faces if the model follows them, else 100 %."""
    if ask.field_model not in _REFRACTED and not always:
        return 1.0
    return optics.lossless_sleeve_transmittance(ask.n_air, ask.n_quartz)


def refuse_impossible_sleeve(ask: OpticsFields, notes: Notes, *, always: bool = False) -> None:
    """Refuse a sleeve that would transmit more than a wall without absorption."""
    lossless = most_through_sleeve(ask, always=always)
    message = (
        "A dry quartz wall cannot pass more than both its faces transmit: (1 - R0)², 92.0 % for fused silica in "
        "air. If the output is specified after the sleeve, use line_source with 100 %."
    )
    excess = ask.sleeve_transmittance > lossless
    notes.refuse("sleeve_impossible", "sleeve_transmittance", message, when=excess, allowed="at most (1 - R0)²")
