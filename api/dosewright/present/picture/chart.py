"""What a picture shows, as plain data: axes, lines, marks, levels, and the same in words."""

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

__all__ = ["Area", "Axis", "AxisName", "Chart", "Level", "Line", "Mark", "Values", "shown_unit", "with_unit"]

Values = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis.

    Attributes
    ----------
    title, unit : str
        What it is, and its unit; none for a plain number.
    low, high : float, optional
        Ends of the axis; None follows the data.
    logarithmic : bool
        Whether equal steps are equal ratios.
    ticks : tuple of (float, str)
        Named places, in place of numbers.
    """

    title: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    logarithmic: bool = False
    ticks: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points; points that are not a number are left out.

    Attributes
    ----------
    x, y : array
        Points.
    name : str
        Its label.
    role : str
        ``main`` (solid), ``second`` (dashed) or ``faint`` (thin).
    dots : bool
        Whether the points themselves are marked.
    """

    x: Values
    y: Values
    name: str = ""
    role: Literal["main", "second", "faint"] = "main"
    dots: bool = False


@dataclass(frozen=True, slots=True)
class Area:
    """A filled area between a line and another, or zero."""

    x: Values
    low: Values
    high: Values
    name: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """A point with its name: the ``site`` of the request (filled), or a ``given`` value (hollow)."""

    x: float
    y: float
    name: str
    role: Literal["site", "given", "note"] = "site"


AxisName: TypeAlias = Literal["x", "y"]


@dataclass(frozen=True, slots=True)
class Level:
    """A straight line across the whole picture, with its name; `across` is the axis it cuts."""

    at: float
    name: str
    across: AxisName = "y"
    role: Literal["limit", "found"] = "limit"


@dataclass(frozen=True, slots=True)
class Chart:
    """A whole picture.

    Attributes
    ----------
    title : str
        One line.
    description : str
        The same in words, for whoever cannot see it: what is drawn and its main values.
    key : tuple of str
        Lines of text under the picture.
    """

    title: str
    description: str
    x: Axis
    y: Axis
    lines: tuple[Line, ...] = ()
    areas: tuple[Area, ...] = ()
    marks: tuple[Mark, ...] = ()
    levels: tuple[Level, ...] = ()
    key: tuple[str, ...] = field(default=())


def with_unit(value: float, unit: str = "") -> str:
    """Return a number to three significant digits, as in a sentence."""
    text = f"{value:.3g}"
    if "e" in text:
        text = f"{float(text):.0f}" if abs(value) < 1e7 and abs(value) >= 1.0 else text
    return f"{text} {shown_unit(unit)}" if unit else text


def shown_unit(symbol: str) -> str:
    """Return a unit's symbol as it is printed: powers raised, products and degrees marked, no underscores."""
    if symbol == "1/100mL":
        return "in 100 mL"
    symbol = symbol.replace("imp_gal", "imperial gal").replace("_", " ")
    return symbol.translate(str.maketrans("23.", "²³·")).replace("deg", "°")
