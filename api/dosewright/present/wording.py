"""Numbers and names as a page says them: one rule of rounding, told on the page."""

import math
from collections.abc import Mapping
from typing import Literal, TypeAlias

from dosewright.engine.sentences import capitalised
from dosewright.present.picture.chart import shown_unit
from dosewright.quantities import KINDS
from dosewright.quantities.durations import EXACT, SECONDS, as_read

__all__ = [
    "AMOUNTS",
    "ROUNDING",
    "VERDICTS",
    "WEIGHTS",
    "Side",
    "amount",
    "duration",
    "in_words",
    "measured",
    "number",
    "said",
]

Side: TypeAlias = Literal["up", "down"]
"""The side to round a number to, where the other would not be safe."""

_DIGITS = 3
ROUNDING = (
    f"Numbers on this page are rounded to {_DIGITS} significant figures; whole numbers below "
    "10,000 that are exact are written out. A time is told in the largest of s, min, h and d that it holds at least "
    "twice. The answer in JSON holds every digit, in the units asked for; nothing was calculated from a rounded number."
)
AMOUNTS = (
    "Volumes below 1 gal are told in fl oz and below 1 L in mL, masses from 16 oz on in lb and from 1000 g on in kg, "
    "small flows in gal/d or mL/min. What is to be reached is rounded up, and what was reached is rounded down."
)
VERDICTS: Mapping[str, tuple[str, str]] = {
    "go": ("Go", "By what was given, ultraviolet disinfection fits this water and this house."),
    "treat_first": ("Treat or mend first", "Ultraviolet disinfection comes after what is named below is done."),
    "do_not": ("Do not install so", "What is named below first speaks against it."),
    "incomplete": ("Cannot be judged yet", "Too little was given to judge; what is missing is named below."),
}
"""A plan's verdict in words, and what it means."""
WEIGHTS: Mapping[str, str] = {"stop": "Stops it", "fix_first": "To be done first", "look": "Worth a look"}
"""What a reason of a plan weighs, in words."""
_NAMES: Mapping[str, str] = {
    "uvt": "UVT",
    "ph": "pH",
    "e_coli": "E. coli",
    "total_coliform": "total coliform",
    "nitrate_nitrogen": "nitrate (as nitrogen)",
    "chlorinated_ph": "pH once chlorinated",
    "ph_before": "pH before anything goes in",
    "ph_after_vinegar": "pH with the vinegar, before the chlorine",
    "ph_after_both": "pH with vinegar and chlorine",
    "ct_achieved": "CT achieved",
    "ct_required": "CT required",
    "ct_required_table": "CT required by the table",
    "raw_ph": "pH before the chlorine",
    "ph_target": "pH wanted",
    "pka": "pKa",
    "dilute_pka": "pKa in dilute water",
    "other_pka": "pKa by the other relation",
    "us_kitchen": "US kitchen",
}


def number(value: float, side: Side | None = None) -> str:
    """Return a number rounded by the page's rule, without an exponent where a person would write none.

    To a side where one is named, else to the nearest.
    """
    if value == 0.0:
        return "0"
    if value == int(value) and abs(value) < 10_000.0:
        return f"{value:.0f}"
    if side is not None:
        value = _to_side(value, side)
    text = f"{value:.{_DIGITS}g}"
    if "e" not in text:
        return text
    return f"{float(text):,.0f}" if 1.0 <= abs(value) < 1e9 else text


def _to_side(value: float, side: Side) -> float:
    last_digit = 10.0 ** (math.floor(math.log10(abs(value))) - _DIGITS + 1)
    steps = value / last_digit
    spare = EXACT * abs(steps)
    return (math.ceil(steps - spare) if side == "up" else math.floor(steps + spare)) * last_digit


def measured(value: float | None, unit: str, side: Side | None = None) -> str:
    """Return a number with its unit; a dash where there is none."""
    if value is None:
        return "–"
    if unit == "1":
        return number(value, side)
    return f"{number(value, side)} {shown_unit(unit)}".rstrip()


# Smallest first; the number is how much of a unit there has to be for it to be the one to read.
_LADDERS: Mapping[str, tuple[tuple[str, float], ...]] = {
    **dict.fromkeys(("fl_oz", "gal"), (("fl_oz", 0.0), ("gal", 1.0))),
    **dict.fromkeys(("mL", "L"), (("mL", 0.0), ("L", 1.0))),
    "m3": (("mL", 0.0), ("L", 1.0), ("m3", 1.0)),
    **dict.fromkeys(("oz", "lb"), (("oz", 0.0), ("lb", 1.0))),
    **dict.fromkeys(("g", "kg"), (("g", 0.0), ("kg", 1.0))),
    "gal/min": (("gal/d", 0.0), ("gal/min", 0.1)),
    "L/min": (("mL/min", 0.0), ("L/min", 0.1)),
}


def duration(value: float | None, unit: str, side: Side | None = None) -> str:
    """Return a time in the largest unit that it holds at least twice; as it is where it is no time."""
    if value is None or unit not in SECONDS:
        return measured(value, unit, side)
    return measured(*as_read(value, unit), side)


def amount(value: float | None, unit: str, side: Side | None = None) -> str:
    """Return a volume, mass or small flow in the unit of its family that a person reads; a time as `duration` does."""
    if not value or unit not in _LADDERS:
        return duration(value, unit, side)
    units = next(kind.lookup for kind in KINDS.values() if unit in kind.lookup)
    told = {name: float(units[name].from_si(units[unit].to_si(value))) for name, _ in _LADDERS[unit]}
    told[unit] = value
    shown = [name for name, least in _LADDERS[unit] if abs(told[name]) * (1.0 + EXACT) >= least][-1]
    return measured(told[shown], shown, side)


def said(text: str) -> str:
    """Return a written quantity, rounded by the page's rule."""
    value, _, unit = text.partition(" ")
    return measured(float(value), unit)


def in_words(name: str) -> str:
    """Return a stable name as words, the first in capitals."""
    return capitalised(_NAMES.get(name, name.replace("_", " ")))
