"""Numbers as people read them: few figures, units that fit, and never rounded to the safer-looking side.

Values are rounded only where a person reads them. JSON, CSV, XML and the cells of a workbook keep every digit.
"""

import math
from collections.abc import Mapping
from functools import cache
from typing import Any, Literal, TypeAlias

from dosewright.engine.directions import safer_of
from dosewright.engine.registry import find
from dosewright.engine.writing import answer_fields
from dosewright.present.picture.chart import shown_unit
from dosewright.quantities import KINDS
from dosewright.quantities.durations import EXACT, SECONDS, readable_time

__all__ = [
    "AMOUNTS",
    "ROUNDING",
    "TABLE_DIGITS",
    "Side",
    "amount",
    "duration",
    "in_profile",
    "in_readable_units",
    "measured",
    "number",
    "quantity_text",
    "sides_of",
]

Side: TypeAlias = Literal["up", "down"]
"""The side to round a number to, where the other would look safer than it is."""

_PAGE_DIGITS = 3
TABLE_DIGITS = 4
"""Significant figures in a terminal, a notebook and a workbook's cells, which people compare with limits."""

ROUNDING = (
    f"Numbers on this page are rounded to {_PAGE_DIGITS} significant figures; whole numbers below "
    "10,000 that are exact are written out. A time is in the largest of s, min, h and d that it holds at least "
    "twice. The answer in JSON has every digit, in the requested units; nothing was calculated from a rounded number."
)
AMOUNTS = (
    "Volumes below 1 gal are shown in fl oz and below 1 L in mL, masses from 16 oz in lb and from 1000 g in kg, "
    "small flows in gal/d or mL/min. What is to be reached is rounded up, and what was reached is rounded down."
)


def number(value: float, side: Side | None = None, digits: int = _PAGE_DIGITS) -> str:
    """Return a rounded number, without an exponent where a person would write none.

    To a side where one is named, else to the nearest.
    """
    if value == 0.0:
        return "0"
    if not math.isfinite(value):
        return "–" if math.isnan(value) else f"{value:g}"
    if value == int(value) and abs(value) < 10_000.0:
        return f"{value:.0f}"
    if side is not None:
        value = _to_side(value, side, digits)
    text = f"{value:.{digits}g}"
    if "e" not in text:
        return text
    return f"{float(text):,.0f}" if 1.0 <= abs(value) < 1e9 else text


def _to_side(value: float, side: Side, digits: int) -> float:
    last_digit = 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1)
    if last_digit == 0.0:  # the value is so small that no float has its last digit
        return value
    steps = value / last_digit
    spare = EXACT * abs(steps)
    return (math.ceil(steps - spare) if side == "up" else math.floor(steps + spare)) * last_digit


def measured(value: float | None, unit: str, side: Side | None = None, digits: int = _PAGE_DIGITS) -> str:
    """Return a number with its unit; a dash where there is none."""
    if value is None:
        return "–"
    if unit == "1":
        return number(value, side, digits)
    return f"{number(value, side, digits)} {shown_unit(unit)}".rstrip()


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
    return measured(*readable_time(value, unit), side)


def in_readable_units(value: float, unit: str) -> tuple[float, str]:
    """Return a value and its unit as people read them in a table: a long time in hours or days, the rest as it is."""
    if unit not in SECONDS or not math.isfinite(value):
        return value, unit
    read, larger = readable_time(value, unit)
    return (read, larger) if SECONDS[larger] > SECONDS[unit] else (value, unit)


def amount(value: float | None, unit: str, side: Side | None = None) -> str:
    """Return a volume, mass or small flow in the unit of its family that a person reads; a time as `duration` does."""
    if not value or unit not in _LADDERS:
        return duration(value, unit, side)
    units = next(kind.lookup for kind in KINDS.values() if unit in kind.lookup)
    texts = {name: float(units[name].from_si(units[unit].to_si(value))) for name, _ in _LADDERS[unit]}
    texts[unit] = value
    shown = [name for name, least in _LADDERS[unit] if abs(texts[name]) * (1.0 + EXACT) >= least][-1]
    return measured(texts[shown], shown, side)


def in_profile(kind: str, value: float, profile: str | None, side: Side | None = None) -> str:
    """Return an SI value with its unit in a unit profile, as a message names it."""
    unit = KINDS[kind].profiles[profile or "metric"]
    return measured(float(unit.from_si(value)), unit.symbol, side)


def quantity_text(value: float, unit: str, side: Side | None = None) -> str:
    """Return a quantity as a contract's own text, that can be read back: rounded, its unit as it is typed."""
    text = number(value, side, TABLE_DIGITS).replace(",", "")
    return f"{text} {unit}".rstrip()


@cache
def sides_of(struct: type[Any]) -> Mapping[str, Side]:
    """Return the side that each number of an answer is rounded to, by name, and by section and name.

    A value that reads as safer when higher is rounded down, one that reads as safer when lower is rounded up, so that
    rounding never carries a value across its limit to the safe side.
    """
    sides: dict[str, Side] = {}
    for name, safe in safer_of(struct).items():
        if safe in ("higher", "lower"):
            sides[name] = "down" if safe == "higher" else "up"
    for field in answer_fields(struct):
        if "section" in field.schema:
            inner = sides_of(find(field.schema["section"]).answer)
            sides |= {f"{field.name}.{name}": side for name, side in inner.items()}
    return sides
