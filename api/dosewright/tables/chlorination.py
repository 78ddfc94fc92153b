"""Chlorination rules, hypochlorite products, neutralising agents and limits, in SI."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from dosewright.tables import Row, table

__all__ = [
    "ChlorinationRule",
    "DensityLine",
    "HalfLives",
    "HandbookRatio",
    "Neutraliser",
    "Product",
    "chlorination_rules",
    "chlorine_limit",
    "demand_ratios",
    "density_line",
    "half_lives",
    "housing_volumes",
    "neutraliser_surplus",
    "neutralisers",
    "peroxide_sold",
    "products",
    "retest_rule",
]

_MG_PER_L = 1e-3
_FACTORS = {"mg/L": _MG_PER_L, "gal": 0.003785411784, "d": 86400.0, "h": 3600.0, "1": 1.0, "": 1.0}
_G_PER_L = 1.0
_HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class ChlorinationRule:
    """A published rule for concentration and hold time, read as steps.

    Attributes
    ----------
    title : str
        Name in words.
    minimum_concentrations : tuple of float
        Free chlorine from which each step applies, rising. [kg/m³]
    hold_times : tuple of float or None
        Time to hold at each step; None where none was seen. [s]
    maximum_concentration, end_concentration : float or None
        Highest chlorine allowed, and lowest at the end of the hold. [kg/m³]
    use : str
        ``wells``, ``house_plumbing``, ``mains`` or ``tanks``.
    applies_to : str
        What it is written for, in its own words.
    source : str
        Its place in the source.
    recalled : bool
        Whether a figure of it is recalled, not read.
    differs : str
        Where it contradicts itself or doses differently, and what is used; can be empty.
    """

    title: str
    minimum_concentrations: tuple[float, ...]
    hold_times: tuple[float, ...] | None
    maximum_concentration: float | None
    end_concentration: float | None
    use: str
    applies_to: str
    source: str
    recalled: bool
    differs: str


@dataclass(frozen=True, slots=True)
class Product:
    """A class of hypochlorite product.

    Attributes
    ----------
    title : str
        Name in words.
    strength_basis : str
        ``weight_percent_sodium_hypochlorite``, ``trade_percent`` or ``weight_percent_available_chlorine``.
    strength : float
        Strength as a share on that basis. [1]
    granules : bool
        Dry, not liquid.
    """

    title: str
    strength_basis: str
    strength: float
    granules: bool


@dataclass(frozen=True, slots=True)
class DensityLine:
    """Two solutions between which the density of hypochlorite is interpolated.

    Attributes
    ----------
    water_density, solution_density : float
        Density of water and of the published solution. [kg/m³]
    solution_chlorine : float
        Available chlorine of the published solution. [kg/m³]
    strongest : float
        Strongest solution whose published density was compared with the line. [kg/m³]
    source : str
        Its place in the source.
    """

    water_density: float
    solution_density: float
    solution_chlorine: float
    strongest: float
    source: str


@dataclass(frozen=True, slots=True)
class HalfLives:
    """Half-lives of hypochlorite solutions.

    Attributes
    ----------
    strengths : tuple of float
        Available chlorine of each row, rising. [kg/m³]
    rows : tuple of (ndarray, ndarray)
        Temperatures, rising, and half-lives at each strength. [K, s]
    source : str
        Where the recalled rows are published.
    """

    strengths: tuple[float, ...]
    rows: tuple[tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]], ...]
    source: str


@dataclass(frozen=True, slots=True)
class HandbookRatio:
    """One handbook's values for a reducing agent.

    Attributes
    ----------
    ratio : float
        Agent per chlorine. [kg/kg]
    source : str
        Its place in the source.
    recalled : bool
        Whether the figure is recalled, not read.
    """

    ratio: float
    source: str
    recalled: bool


@dataclass(frozen=True, slots=True)
class Neutraliser:
    """A reducing agent.

    Attributes
    ----------
    title : str
        Name in words.
    handbook : HandbookRatio or None
        The ratio that was read, where there is one.
    handbooks : tuple of HandbookRatio
        Every ratio, recalled ones too.
    reactions : tuple of (str, float, float)
        End product, molar mass [kg/mol], and moles of Cl₂ reduced by one mole.
    """

    title: str
    handbook: HandbookRatio | None
    handbooks: tuple[HandbookRatio, ...]
    reactions: tuple[tuple[str, float, float], ...]


def _source(row: Row) -> str:
    cited = f"{row['source']}, {row['section']}" if row["section"] else row["source"]
    return f"{cited} ({row['year']})" if row["year"] else cited


def _grouped(name: str, key: str) -> dict[str, list[Row]]:
    groups: dict[str, list[Row]] = {}
    for row in table(name).rows:
        groups.setdefault(row[key], []).append(row)
    return groups


def _milligrams(text: str) -> float | None:
    return float(text) * _MG_PER_L if text else None


@cache
def chlorination_rules() -> Mapping[str, ChlorinationRule]:
    """Return every rule by its name."""
    rules = {
        name: ChlorinationRule(
            title=rows[0]["title"],
            minimum_concentrations=tuple(float(row["minimum_concentration"]) * _MG_PER_L for row in rows),
            hold_times=tuple(float(row["hold_time"]) * _HOUR for row in rows) if rows[0]["hold_time"] else None,
            maximum_concentration=_milligrams(rows[0]["maximum_concentration"]),
            end_concentration=_milligrams(rows[0]["end_concentration"]),
            use=rows[0]["use"],
            applies_to=rows[0]["applies_to"],
            source=_source(rows[0]),
            recalled=any("memory" in (row["status"], row["hold_status"]) for row in rows),
            differs=rows[0]["differs"],
        )
        for name, rows in _grouped("chlorination_rules", "name").items()
    }
    return MappingProxyType(rules)


@cache
def products() -> Mapping[str, Product]:
    """Return every class of product by its name."""
    return MappingProxyType(
        {
            row["name"]: Product(
                title=row["title"],
                strength_basis=row["strength_basis"],
                strength=float(row["strength"]) / 100.0,
                granules=row["form"] == "granules",
            )
            for row in table("chlorine_products").rows
        }
    )


@cache
def density_line() -> DensityLine:
    """Return the two solutions between which density is interpolated."""
    water, solution = (row for row in table("hypochlorite_density").rows if row["use"] == "basis")
    return DensityLine(
        water_density=float(water["density"]),
        solution_density=float(solution["density"]),
        solution_chlorine=float(solution["available_chlorine"]) * _G_PER_L,
        strongest=max(float(row["available_chlorine"]) for row in table("hypochlorite_density").rows) * _G_PER_L,
        source=_source(solution),
    )


@cache
def half_lives() -> HalfLives:
    """Return the half-lives of hypochlorite solutions by strength and temperature."""
    groups = _grouped("hypochlorite_half_life", "trade_strength")
    return HalfLives(
        strengths=tuple(float(trade) * 10.0 for trade in groups),
        rows=tuple(
            (
                np.array([float(row["temperature"]) + 273.15 for row in rows]),
                np.array([float(row["half_life"]) * 86400.0 for row in rows]),
            )
            for rows in groups.values()
        ),
        source=next(_source(row) for rows in groups.values() for row in rows if row["status"] == "memory"),
    )


@cache
def neutralisers() -> Mapping[str, Neutraliser]:
    """Return every reducing agent by its name."""
    agents: dict[str, Neutraliser] = {}
    for name, rows in _grouped("neutralisers", "agent").items():
        handbooks = tuple(
            HandbookRatio(float(row["ratio"]), _source(row), row["status"] == "memory")
            for row in rows
            if row["basis"] == "handbook"
        )
        agents[name] = Neutraliser(
            title=rows[0]["title"],
            handbook=next((handbook for handbook in handbooks if not handbook.recalled), None),
            handbooks=handbooks,
            reactions=tuple(
                (row["end_product"], float(row["molar_mass"]) / 1000.0, float(row["chlorine_reduced"]))
                for row in rows
                if row["basis"] == "stoichiometric"
            ),
        )
    return MappingProxyType(agents)


@cache
def neutraliser_surplus() -> tuple[float, str]:
    """Return the surplus over stoichiometry for agents without a handbook ratio, as a share, with its source."""
    about = table("neutralisers").about
    return float(about["surplus"]), str(about["surplus_source"])


def peroxide_sold() -> float:
    """Return the strength of the hydrogen peroxide that is commonly sold, as a share of its mass."""
    return float(table("neutralisers").about["peroxide_sold"])


@cache
def chlorine_limit(name: str) -> tuple[float, str]:
    """Return a limit in SI with its source.

    Raises
    ------
    LookupError
        No such limit.
    """
    row = table("chlorine_limits").row(name=name)
    if row is None:
        raise LookupError(f"table chlorine_limits has no {name}")
    return float(row["value"]) * _FACTORS[row["unit"]], _source(row)


@cache
def housing_volumes() -> Mapping[str, float]:
    """Return the water in filter housings by nominal size, in m³."""
    return MappingProxyType({row["name"]: float(row["volume"]) * 1e-3 for row in table("filter_housings").rows})


@cache
def retest_rule(name: str) -> tuple[float, str]:
    """Return a figure of the sampling after a chlorination in SI, with its source.

    Raises
    ------
    LookupError
        No such figure.
    """
    row = table("retest_rules").row(name=name)
    if row is None:
        raise LookupError(f"table retest_rules has no {name}")
    return float(row["value"]) * _FACTORS[row["unit"]], _source(row)


@cache
def demand_ratios() -> Mapping[str, tuple[float, str]]:
    """Return the chlorine that each dissolved substance takes up by its name, in kg/kg, with its source."""
    return MappingProxyType({row["name"]: (float(row["ratio"]), _source(row)) for row in table("chlorine_demand").rows})
