"""The water layer between sleeve and chamber wall: its possible thickness, and the light that it leaves."""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from dosewright.core.constants import CENTIMETRE
from dosewright.core.light import dose
from dosewright.core.light.doses import laminar_dose
from dosewright.core.light.field import Field
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.tables.ultraviolet import chamber_range
from dosewright.topics.uv.unit.chamber import field_of

__all__ = [
    "SIZES",
    "Chambers",
    "WaterShares",
    "chamber_known",
    "possible_chambers",
    "refuse_impossible_layer",
    "shares_in_water",
    "unmixed_share",
    "with_layer",
]

SIZES = ("chamber_bore", "sleeve_outer_diameter", "arc_length", "chamber_length")
THINNEST = 1e-3  # m


class Chambers(NamedTuple):
    """The chambers of an interval.

    Attributes
    ----------
    best : Field
        The chamber in which the flow falls least in darker water.
    worst : tuple of Field
        Those in which it falls most: the first by the mean dose, any by the lowest dose. The best one if all sizes are
        known.
    least, most : float or array
        Thinnest and thickest water layer. [m]
    exact : bool
        Whether the layer is known, from bore and sleeve or measured.
    """

    best: Field
    worst: tuple[Field, ...]
    least: Numbers
    most: Numbers
    exact: bool


class WaterShares(NamedTuple):
    """Dose times flow in this water, as a share of that in the rated water; at most 1.

    Attributes
    ----------
    best_mixed, worst_mixed : float or array
        By the mean dose, in both chambers of an interval. [-]
    worst_unmixed : float or array
        By the lowest dose of a streamline, in the worse chamber. [-]
    """

    best_mixed: Numbers
    worst_mixed: Numbers
    worst_unmixed: Numbers


def chamber_known(ask: Any) -> bool:
    """Tell whether all sizes of the chamber were entered."""
    return all(getattr(ask, name) is not None for name in SIZES)


def _layers(ask: Any, sleeve_low: Numbers, sleeve_high: Numbers) -> tuple[Numbers, Numbers]:
    if ask.water_layer is not None:
        return ask.water_layer, ask.water_layer
    if ask.chamber_bore is not None:
        widest = narrowest = ask.chamber_bore
    else:
        outside, wall = chamber_range("chamber_outside_diameter"), chamber_range("chamber_wall")
        given: Any = ask.outside_diameter
        narrowest = (outside.low if given is None else given) - 2.0 * wall.high
        widest = (outside.high if given is None else given) - 2.0 * wall.low
    least = 0.5 * (narrowest - sleeve_high)
    return np.maximum(least, THINNEST), 0.5 * (widest - sleeve_low)


def _sleeves(ask: Any) -> tuple[Numbers, Numbers]:
    given = ask.sleeve_outer_diameter
    sleeve = chamber_range("sleeve_outer_diameter")
    return (sleeve.low, sleeve.high) if given is None else (given, given)


def _lengths(ask: Any) -> tuple[tuple[Numbers, Numbers], ...]:
    """Return arc and chamber length of the worst chambers: the longest by the mean dose, and the last is the best."""
    arc, over = chamber_range("arc_length"), chamber_range("chamber_over_arc")
    given: Any = ask.arc_length
    short, long = (arc.low, arc.high) if given is None else (given, given)
    room: Any = ask.outside_length if ask.chamber_length is None else ask.chamber_length
    if room is not None and given is None:
        short, long = np.minimum(short, room), np.minimum(long, room)
    if ask.chamber_length is not None:
        return (long, ask.chamber_length), (short, ask.chamber_length)
    widths = [one * over.high for one in (long, short)]
    if room is not None:
        widths = [np.maximum(np.minimum(width, room), one) for width, one in zip(widths, (long, short), strict=True)]
    return (long, widths[0]), (short, widths[1]), (short, short * over.low)


def possible_chambers(ask: Any) -> Chambers:
    """Return the chambers at both ends of what is known of the sizes.

    In darker water the flow falls more in a thicker layer and, by less than 0.01, about a thinner sleeve and, by the
    mean dose, along a longer arc in a longer chamber. By the lowest dose, either length can be the worse one. The
    bounds hold to 0.01 % on random chambers.
    """
    if chamber_known(ask):
        sizes: Any = [getattr(ask, name) for name in ("arc_length", "chamber_length", *SIZES[1::-1])]
        layer = 0.5 * (ask.chamber_bore - ask.sleeve_outer_diameter)
        field = field_of(ask, *sizes)
        return Chambers(field, (field,), layer, layer, exact=True)
    thin, wide = _sleeves(ask)
    least, most = _layers(ask, thin, wide)
    best = field_of(ask, *_lengths(ask)[-1], wide, wide + 2.0 * least)
    both = ask.chamber_bore is not None and ask.sleeve_outer_diameter is not None
    return Chambers(best, with_layer(ask, most), least, most, exact=both or ask.water_layer is not None)


def with_layer(ask: Any, layer: Numbers) -> tuple[Field, ...]:
    """Return the worse chambers with a layer of this thickness, the longest first."""
    thin, _ = _sleeves(ask)
    return tuple(field_of(ask, *lengths, thin, thin + 2.0 * layer) for lengths in _lengths(ask))


def shares_in_water(chambers: Chambers, uvt: Numbers, rated_uvt: Numbers) -> WaterShares:
    """Return what this water leaves of dose times flow in the rated water, never more than all of it."""
    best = _mixed_share(chambers.best, uvt, rated_uvt)
    worst = best if chambers.worst[0] is chambers.best else _mixed_share(chambers.worst[0], uvt, rated_uvt)
    worst = np.minimum(worst, best)
    return WaterShares(best, worst, np.minimum(unmixed_share(chambers.worst, uvt, rated_uvt), worst))


def _is_column(field: Field, *values: Any) -> bool:
    return any(isinstance(value, np.ndarray) for value in (*values, *field, *(field.sleeve or ())))


def _mixed_share(field: Field, uvt: Numbers, rated_uvt: Numbers) -> Numbers:
    """Return the ratio of the mean fluence rates; all in one chamber at once, since the rays are the same."""
    waters: list[Any] = [np.atleast_1d(dose.absorption_coefficient(one, CENTIMETRE)) for one in (uvt, rated_uvt)]
    here: Any
    if _is_column(field):
        here, there = (field.average(1.0, water) for water in waters)
    else:
        together: Any = field.average(1.0, np.concatenate(waters))
        here, there = np.split(together, [waters[0].size])
    share = np.minimum(here / there, 1.0)
    return share if _is_column(field, uvt, rated_uvt) else float(share[0])


def unmixed_share(fields: Sequence[Field], uvt: Numbers, rated_uvt: Numbers) -> Numbers:
    """Return the least ratio of the lowest doses of a streamline: if the water never mixes, they fall, not the mean.

    The chambers differ in arc and chamber length only.
    """
    waters: list[Any] = [dose.absorption_coefficient(one, CENTIMETRE) for one in (uvt, rated_uvt)]
    if not any(_is_column(field, *waters) for field in fields):  # all chambers and both waters at once
        arcs, lengths = ([getattr(field, name) for field in fields] for name in ("arc_length", "chamber_length"))
        together: Any = fields[0]
        if len(fields) > 1:
            together = together._replace(arc_length=np.tile(arcs, 2), chamber_length=np.tile(lengths, 2))
        both: Any = laminar_dose.flow_for_laminar_dose(together, 1.0, np.repeat(waters, len(fields)), 1.0, None)
        here, there = np.split(both, 2)
        return min(1.0, *(here / there).tolist())
    least: Any = 1.0
    for field in fields:
        here, there = (laminar_dose.flow_for_laminar_dose(field, 1.0, water, 1.0, None) for water in waters)
        least = np.minimum(least, here / there)
    return least


def refuse_impossible_layer(ask: Any, notes: Notes) -> None:
    """Refuse sizes that leave no water layer, and a layer given twice."""
    thin, wide = _sleeves(ask)
    if ask.sleeve_outer_diameter is None:
        message = "The sleeve wall is too thick for any published sleeve. Enter sleeve_outer_diameter."
        notes.refuse("sleeve_impossible", "sleeve_wall", message, when=2.0 * ask.sleeve_wall >= thin)
    if ask.water_layer is not None and ask.chamber_bore is not None:
        message = "Enter the water layer or the chamber bore, not both: one follows from the other and the sleeve."
        notes.refuse("more_than_one", "water_layer", message, allowed="water_layer or chamber_bore")
    name = "chamber_bore" if ask.chamber_bore is not None else "outside_diameter"
    given: Any = getattr(ask, name)
    if ask.water_layer is None and given is not None and not chamber_known(ask):
        message = f"No published sleeve leaves a water layer in so narrow a chamber. Check the unit of {name}."
        most = _layers(ask, thin, wide)[1]
        known = ask.chamber_bore is not None and ask.sleeve_outer_diameter is not None  # refused elsewhere
        if not known:
            notes.refuse("chamber_impossible", name, message, when=most < THINNEST)
    for inner in ("arc_length", "chamber_length"):
        if ask.outside_length is not None and getattr(ask, inner) is not None:
            message = f"The chamber cannot be shorter outside than its {inner}. Check the unit of both."
            short = ask.outside_length < getattr(ask, inner)
            notes.refuse("chamber_impossible", "outside_length", message, when=short)
    outside = ask.outside_diameter
    if outside is None:
        return
    for inner, width in (("chamber_bore", 1.0), ("water_layer", 2.0), ("sleeve_outer_diameter", 1.0)):
        if getattr(ask, inner) is not None:
            message = f"The outside diameter must be more than {inner} leaves room for. Check the unit of both."
            notes.refuse("chamber_impossible", "outside_diameter", message, when=outside <= width * getattr(ask, inner))
