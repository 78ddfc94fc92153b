"""Limits of raw water, its treatment, insulation and clearances."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from dosewright.tables import Row, marked, table

__all__ = [
    "InsulationMaterial",
    "Stage",
    "Treatment",
    "WaterLimit",
    "WaterSource",
    "default_text",
    "insulation_materials",
    "langelier_offset",
    "site_default",
    "treatment_train",
    "uv_cannot_remove",
    "water_limits",
    "water_source",
]

_RATE = 0.003785411784 / 60.0 / 0.09290304  # US gallon a minute for a square foot, in m/s
_CONDUCTIVITY = 1055.05585262 * 0.0254 / 3600.0 / 0.09290304 * 1.8  # Btu·in/(h·ft²·degF), in W/(m·K)


@dataclass(frozen=True, slots=True)
class Treatment:
    """What treats a parameter on one side of its limit.

    Attributes
    ----------
    above : float or None
        Figure from which it holds; None for anything beyond the limit. [unit of the limit]
    stage : str
        Stage of the train, or ``specialist``.
    source : str
        Its place in the source.
    """

    above: float | None
    stage: str
    source: str


@dataclass(frozen=True, slots=True)
class WaterLimit:
    """A parameter of raw water and its limits.

    Attributes
    ----------
    title, unit : str
        Name in words, and the unit in which the limits are printed.
    lower, upper : float or None
        Limits; what equals one is within it. [unit]
    effect : str
        ``ultraviolet``, ``health``, ``disinfection`` or ``aesthetic``.
    needed : str
        Which verdict stays open without it: ``ultraviolet`` for both, ``drinking`` for that on drinking alone,
        ``coliforms`` as ultraviolet unless coliforms were tested and none found, ``no`` for neither.
    judges : str
        What it reports.
    below, above : tuple of Treatment
        Treatment beyond each limit, weakest first.
    source : str
        Place of the limits in the source.
    """

    title: str
    unit: str
    lower: float | None
    upper: float | None
    effect: str
    needed: str
    judges: str
    below: tuple[Treatment, ...]
    above: tuple[Treatment, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage of the treatment train.

    Attributes
    ----------
    title : str
        Name in words.
    always : bool
        Whether every water needs it.
    backwash_velocity : float or None
        Backwash flow for each area of the bed; None where none was seen. [m/s]
    source : str
        Its place in the source.
    """

    title: str
    always: bool
    backwash_velocity: float | None
    source: str


@dataclass(frozen=True, slots=True)
class WaterSource:
    """Where raw water comes from.

    Attributes
    ----------
    title : str
        In words.
    fix_first : bool
        Whether it needs treatment before UV even if a test is clear.
    stage : str
        Stage of the train that it needs; empty for none.
    code, message : str
        Its note; can be empty.
    source : str
        Its place in the source.
    """

    title: str
    fix_first: bool
    stage: str
    code: str
    message: str
    source: str


@dataclass(frozen=True, slots=True)
class InsulationMaterial:
    """A pipe insulation.

    Attributes
    ----------
    title : str
        Name in words.
    conductivity : float
        Highest conductivity of its specification. [W/(m·K)]
    source : str
        Its place in the source.
    """

    title: str
    conductivity: float
    source: str


def _source(row: Row) -> str:
    cited = f"{row['source']}, {row['section']}" if row["section"] else row["source"]
    cited = f"{cited} ({row['year']})" if row["year"] else cited
    return marked(cited, row["status"])


def _number(text: str) -> float | None:
    return float(text) if text else None


def _treatments(parameter: str, side: str) -> tuple[Treatment, ...]:
    return tuple(
        Treatment(_number(row["above"]), row["stage"], _source(row))
        for row in table("water_treatments").rows
        if (row["parameter"], row["side"]) == (parameter, side)
    )


@cache
def water_limits() -> Mapping[str, WaterLimit]:
    """Return every parameter of raw water by its name, in order."""
    return MappingProxyType(
        {
            row["parameter"]: WaterLimit(
                title=row["title"],
                unit=row["unit"],
                lower=_number(row["lower"]),
                upper=_number(row["upper"]),
                effect=row["effect"],
                needed=row["needed"],
                judges=row["judges"],
                below=_treatments(row["parameter"], "below"),
                above=_treatments(row["parameter"], "above"),
                source=_source(row),
            )
            for row in table("water_quality_limits").rows
        }
    )


@cache
def water_source(name: str) -> WaterSource:
    """Return where raw water comes from, by name.

    Raises
    ------
    LookupError
        No such source.
    """
    row = table("water_sources").row(water_source=name)
    if row is None:
        raise LookupError(f"table water_sources has no {name}")
    fix_first = row["verdict"] == "fix_first"
    return WaterSource(row["title"], fix_first, row["stage"], row["code"], row["message"], _source(row))


@cache
def treatment_train() -> Mapping[str, Stage]:
    """Return every stage by its name, in the order of treatment."""
    return MappingProxyType(
        {
            row["stage"]: Stage(
                title=row["title"],
                always=row["always"] == "yes",
                backwash_velocity=float(row["backwash_rate"]) * _RATE if row["backwash_rate"] else None,
                source=_source(row),
            )
            for row in table("water_treatment_train").rows
        }
    )


@cache
def langelier_offset() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return temperatures, rising [degC], and how far the Langelier chart reads below calcite saturation there."""
    rows = table("langelier_offset").rows
    return tuple(float(row["temperature"]) for row in rows), tuple(float(row["offset"]) for row in rows)


@cache
def uv_cannot_remove() -> tuple[tuple[str, str], ...]:
    """Return what ultraviolet light does not take out of water, each with its remedy."""
    return tuple((row["item"], row["remedy"]) for row in table("uv_cannot_remove").rows)


@cache
def insulation_materials() -> Mapping[str, InsulationMaterial]:
    """Return every insulation by its name."""
    return MappingProxyType(
        {
            row["material"]: InsulationMaterial(row["title"], float(row["conductivity"]) * _CONDUCTIVITY, _source(row))
            for row in table("insulation_materials").rows
        }
    )


def _default(name: str) -> Row:
    row = table("site_defaults").row(name=name)
    if row is None:
        raise LookupError(f"table site_defaults has no {name}")
    return row


@cache
def default_text(name: str) -> str:
    """Return a default as a caller would write it.

    Raises
    ------
    LookupError
        No such default.
    """
    row = _default(name)
    return f"{row['value']} {row['unit']}"


@cache
def site_default(name: str) -> tuple[float, str]:
    """Return a default's number, in its own unit, and its source.

    Raises
    ------
    LookupError
        No such default.
    """
    row = _default(name)
    return float(row["value"]), _source(row)
