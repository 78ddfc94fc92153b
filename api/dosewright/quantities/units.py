"""Units from one closed table (``tables/data/units.csv``), by the kind of quantity that takes them."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal, NamedTuple, TypeAlias

from dosewright.tables import table

__all__ = ["DIMENSION_OF", "KINDS", "PROFILES", "Kind", "Unit", "UnitProfile"]

UnitProfile: TypeAlias = Literal["us", "metric", "si"]
PROFILES: tuple[UnitProfile, ...] = ("us", "metric", "si")


class Unit(NamedTuple):
    """One unit: SI value = (value + offset) × factor / divisor.

    A unit that is an exact part of the SI one, as 1 % or 1 L/min, has a divisor and the factor 1, since dividing by 100
    is right to the last digit where multiplying by 0.01 is not. Others have the divisor 1.
    """

    symbol: str
    factor: float
    offset: float
    divisor: float = 1.0

    def to_si(self, value: Any) -> Any:
        """Convert a float or array in this unit to the SI profile's unit."""
        if self.divisor != 1.0:
            return value / self.divisor
        return (value + self.offset) * self.factor if self.offset else value * self.factor

    def from_si(self, value: Any) -> Any:
        """Convert a float or array in the SI profile's unit to this unit."""
        if self.divisor != 1.0:
            return value * self.divisor
        return value / self.factor - self.offset if self.offset else value / self.factor


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of quantity: its dimension, the units it takes, and the unit each profile gives it."""

    name: str
    title: str
    dimension: str
    lookup: Mapping[str, Unit]
    profiles: Mapping[str, Unit]
    symbols: tuple[str, ...]


def _factor(text: str) -> Fraction:
    """Evaluate products and quotients of exact decimals."""
    total, sign = Fraction(1), "*"
    for part in re.split(r"([*/])", text):
        if part in "*/":
            sign = part
        else:
            total = total * Fraction(part) if sign == "*" else total / Fraction(part)
    return total


def _made(symbol: str, factor: Fraction, offset: float) -> Unit:
    if factor.numerator == 1 and not offset:
        return Unit(symbol, 1.0, 0.0, float(factor.denominator))
    return Unit(symbol, float(factor), offset)


def _kinds() -> dict[str, Kind]:
    lookups: dict[str, dict[str, Unit]] = {}
    symbols: dict[str, list[str]] = {}
    for row in table("units").rows:
        unit = _made(row["symbol"], _factor(row["factor"]), float(row["offset"]))
        lookup = lookups.setdefault(row["dimension"], {})
        lookup.update(dict.fromkeys([unit.symbol, *row["spellings"].split()], unit))
        symbols.setdefault(row["dimension"], []).append(unit.symbol)
    kinds = {
        row["kind"]: Kind(
            row["kind"],
            row["title"],
            row["dimension"],
            lookups[row["dimension"]],
            {profile: lookups[row["dimension"]][row[profile]] for profile in PROFILES},
            tuple(symbols[row["dimension"]]),
        )
        for row in table("quantity_kinds").rows
    }
    none = Unit("", 1.0, 0.0)
    kinds["plain"] = Kind(
        "plain", "number without a unit", "plain", {"": none, "1": none}, dict.fromkeys(PROFILES, none), ()
    )
    return kinds


KINDS: Mapping[str, Kind] = _kinds()
DIMENSION_OF: dict[str, str] = {}
"""Dimension of each symbol and spelling."""
for _kind in KINDS.values():
    for _symbol in _kind.lookup:
        DIMENSION_OF.setdefault(_symbol, _kind.dimension)
