"""Quantities: a closed list of units, read and written here only."""

from dosewright.quantities.quantity import (
    KINDS,
    PROFILES,
    Column,
    FrameColumn,
    Kind,
    Numbers,
    PintQuantity,
    Quantity,
    QuantityInput,
    Unit,
    UnitProfile,
    Unreadable,
    from_pint,
    read,
    shortened,
)

__all__ = [
    "KINDS",
    "PROFILES",
    "Column",
    "FrameColumn",
    "Kind",
    "Numbers",
    "PintQuantity",
    "Quantity",
    "QuantityInput",
    "Unit",
    "UnitProfile",
    "Unreadable",
    "from_pint",
    "read",
    "shortened",
]
