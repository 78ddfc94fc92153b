"""Rows of the units, and what a text comes to in SI."""

from __future__ import annotations

import pint
import pytest

from dosewright.quantities import KINDS, Kind, read
from dosewright.tables import table

__all__ = ["BY_DIMENSION", "KIND", "REGISTRY", "UNITS", "in_si"]

REGISTRY = pint.UnitRegistry()
UNITS = table("units").rows
BY_DIMENSION: dict[str, Kind] = {kind.dimension: kind for kind in KINDS.values()}
KIND = pytest.mark.parametrize("kind", list(KINDS.values()), ids=list(KINDS))


def in_si(text: object, kind: Kind) -> float:
    """What a text comes to in SI."""
    value, unit = read(text, kind, None)
    return float(unit.to_si(value))
