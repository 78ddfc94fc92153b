"""What the ultraviolet calculations share: the chamber, its light by either field model, and its hydraulics."""

from typing import NamedTuple, Protocol

from dosewright.calculations.notes import Notes
from dosewright.contracts.base import Basis
from dosewright.core import annulus, fluence, optics
from dosewright.quantities import Numbers

__all__ = [
    "CAUTIONS",
    "NOT_VALIDATED",
    "Chamber",
    "ChamberFields",
    "OpticsFields",
    "SizeFields",
    "hydraulics_of",
    "refuse_impossible_chamber",
    "refuse_impossible_sleeve",
    "refuse_unclear_hydraulics",
    "rest_on_field_model",
]

CAUTIONS = ("uvc_eyes_skin", "mains_near_water", "pressure", "lamp_mercury", "local_rules")
NOT_VALIDATED = (
    "a calculated dose, never a validated one: it earns no treatment credit (40 CFR 141.720(d) asks for a validated, "
    "monitored reactor) and is no certificate"
)

_REFRACTED_LINE = Basis(
    method="refracted_line: isotropic line lamp, Snell and first-pass Fresnel at air to quartz and quartz to water, "
    "absorption on the slant through quartz and water, averaged over the chamber in one integral",
    source="line source integration: Blatchley (1997), Water Research 31(9), from memory; refraction at the sleeve: "
    "Liu, Ducoste, Jin and Linden (2004), from memory; chamber average derived for Dosewright and checked against the "
    "threefold sum over lamp and water",
    validity="lamp centred, chamber at least as long as the arc, no light thrown back by the chamber; integral good to "
    "1e-6; uvc_output is that of the warmed-up lamp in this water",
)
_LINE_SOURCE = Basis(
    method="line_source: isotropic line lamp, straight rays, UV-C output times sleeve transmittance, averaged over the "
    "chamber in one integral",
    source="line source integration: Blatchley (1997), Water Research 31(9), from memory; chamber average derived for "
    "Dosewright and checked against the threefold sum over lamp and water",
    validity="as refracted_line, but neither bending nor slant losses at the sleeve: 8 to 50 % too high, most in clear "
    "water and narrow gaps",
)
_PLUG_FLOW = Basis(
    method="plug_flow: mixed across the section, none along it; RED = mean dose",
    source="definition",
    validity="the upper bound for a first-order organism: jets and short circuits deliver less",
)
_TANKS = Basis(
    method="tanks_in_series: RED = (tanks/k) ln(1 + k mean dose/tanks)",
    source="equal mixed tanks in series, textbook",
    validity="first-order organism of the inactivation_rate given; the number of tanks comes from a tracer test",
)
_UNNAMED = (
    "No hydraulics are named: the mean dose is an upper bound, which plug flow alone reaches; stray jets and short "
    "circuits deliver less."
)


class OpticsFields(Protocol):
    """Fields that say how light passes the sleeve."""

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


class SizeFields(Protocol):
    """Sizes of a chamber, where they are told."""

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


class HydraulicsFields(Protocol):
    """Fields that say how water passes."""

    @property
    def hydraulics(self) -> str | None:
        """How water passes."""
        ...

    @property
    def tanks(self) -> Numbers | None:
        """Number of tanks [-]."""
        ...

    @property
    def inactivation_rate(self) -> Numbers | None:
        """First-order rate, base e [m²/J]."""
        ...


class ChamberFields(OpticsFields, SizeFields, Protocol):
    """Fields of a chamber and its sleeve."""


class Chamber(NamedTuple):
    """A chamber as the core takes it; lengths in metres.

    Attributes
    ----------
    arc_length, chamber_length, sleeve_radius, bore_radius : float or array
        Sizes. [m]
    sleeve : SleeveOptics or None
        The sleeve of the refracted model.
    passed : float or array
        What the power is multiplied by before it enters the field model: the sleeve transmittance of the plain line,
        1 where the sleeve is part of the model. [-]
    """

    arc_length: Numbers
    chamber_length: Numbers
    sleeve_radius: Numbers
    bore_radius: Numbers
    sleeve: optics.SleeveOptics | None
    passed: Numbers

    @classmethod
    def of(
        cls,
        ask: OpticsFields,
        arc_length: Numbers,
        chamber_length: Numbers,
        sleeve_outer_diameter: Numbers,
        chamber_bore: Numbers,
    ) -> "Chamber":
        """Build a chamber from its sizes and the fields of its optics."""
        sleeve, passed = None, ask.sleeve_transmittance
        if ask.field_model == "refracted_line":
            quartz = optics.quartz_absorption(ask.sleeve_transmittance, ask.sleeve_wall, ask.n_air, ask.n_quartz)
            sleeve, passed = optics.SleeveOptics(ask.sleeve_wall, quartz, ask.n_air, ask.n_quartz, ask.n_water), 1.0
        return cls(arc_length, chamber_length, 0.5 * sleeve_outer_diameter, 0.5 * chamber_bore, sleeve, passed)

    @property
    def volume(self) -> Numbers:
        """Water volume [m³]."""
        return annulus.volume(self.bore_radius, self.sleeve_radius, self.chamber_length)

    def mean_fluence_rate(self, power: Numbers, absorption: Numbers) -> Numbers:
        """Fluence rate averaged over the water [W/m²]; power before the sleeve [W], absorption [1/m]."""
        return fluence.chamber_average(power * self.passed, absorption, *self[:5])

    def fluence_rates(self, power: Numbers, absorption: Numbers) -> fluence.ChamberFluenceRates:
        """Average, and at sleeve and wall [W/m²]; power before the sleeve [W], absorption [1/m]."""
        return fluence.chamber_fluence_rates(power * self.passed, absorption, *self[:5])


def rest_on_field_model(field_model: str, notes: Notes, field: str) -> None:
    """Say which field model was used, and that the plain one is optimistic."""
    if field_model == "refracted_line":
        notes.rest_on(_REFRACTED_LINE)
        return
    notes.rest_on(_LINE_SOURCE)
    message = (
        "The plain line source is optimistic: its fluence rate lies 8 to 50 % above the refracted line's, most in "
        "clear water and narrow gaps. Use refracted_line for a decision."
    )
    notes.warn("line_source_optimistic", field, message)


def hydraulics_of(ask: HydraulicsFields, notes: Notes, field: str) -> str | None:
    """Return the named hydraulics; say what they mean, or that none are named, and what was not needed."""
    if ask.hydraulics == "tanks_in_series":
        notes.rest_on(_TANKS)
        return ask.hydraulics
    if ask.hydraulics == "plug_flow":
        notes.rest_on(_PLUG_FLOW)
    else:
        notes.warn("hydraulics_not_named", field, _UNNAMED)
    if ask.tanks is not None:
        notes.warn("not_used", "tanks", "The number of tanks counts with hydraulics tanks_in_series only.")
    return ask.hydraulics


def refuse_impossible_chamber(ask: SizeFields, notes: Notes) -> None:
    """Refuse a sleeve wider than the bore, a wall thicker than the sleeve, a chamber shorter than the arc."""
    outer = ask.sleeve_outer_diameter
    if outer is not None:
        message = "The wall must be thinner than half the sleeve's outer diameter."
        notes.refuse("sleeve_impossible", "sleeve_wall", message, when=2.0 * ask.sleeve_wall >= outer)
        if ask.chamber_bore is not None:
            message = "The sleeve must be narrower than the chamber bore: both are diameters, and water runs between."
            notes.refuse("chamber_impossible", "sleeve_outer_diameter", message, when=outer >= ask.chamber_bore)
    if ask.arc_length is not None and ask.chamber_length is not None:
        message = (
            "The chamber must be at least as long as the arc: a lamp that reaches past its ends is not computed here."
        )
        notes.refuse("chamber_too_short", "chamber_length", message, when=ask.chamber_length < ask.arc_length)


def refuse_impossible_sleeve(ask: OpticsFields, notes: Notes) -> None:
    """Refuse a sleeve that would pass more than a wall without any absorption."""
    if ask.field_model != "refracted_line":
        return
    lossless = optics.lossless_sleeve_transmittance(ask.n_air, ask.n_quartz)
    message = (
        "A dry quartz wall cannot pass more than both its faces let through: (1 - R0)², 92.0 % for fused silica in "
        "air. If the output is quoted through the sleeve, ask for line_source with 100 %."
    )
    excess = ask.sleeve_transmittance > lossless
    notes.refuse("sleeve_impossible", "sleeve_transmittance", message, when=excess, allowed="at most (1 - R0)²")


def refuse_unclear_hydraulics(ask: HydraulicsFields, notes: Notes) -> None:
    """Refuse tanks in series without their number or the organism's rate."""
    if ask.hydraulics != "tanks_in_series":
        return
    if ask.tanks is None:
        notes.refuse("required", "tanks", "tanks_in_series needs the number of tanks.")
    if ask.inactivation_rate is None:
        message = "tanks_in_series needs the inactivation rate: the RED hangs on the organism."
        notes.refuse("required", "inactivation_rate", message)
