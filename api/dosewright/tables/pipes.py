"""Pipe materials with their sizes, roughness, Hazen-Williams coefficient and velocity limits, in SI."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from dosewright.tables import Row, marked, table
from dosewright.tables.pipe_walls import Stiffness, stiffness

__all__ = [
    "HazenWilliamsValidity",
    "NoiseLimit",
    "PipeMaterial",
    "PipeSize",
    "VelocityLimit",
    "general_velocity_limits",
    "hazen_williams_validity",
    "implausible_velocity",
    "noise_limit",
    "pipe_materials",
]

_METALS = ("copper", "steel")


@dataclass(frozen=True, slots=True)
class PipeSize:
    """One size of a pipe material.

    Attributes
    ----------
    nominal_size : str
        Trade size, as ``3/4`` or ``1-1/4``.
    outer_diameter, wall, bore : float
        Dimensions; the bore is the outer diameter less twice the wall. [m]
    average_bore : float or None
        Bore at the average wall where a table prints it; a standard's wall is often a minimum. [m]
    source : str
        Table of the dimensions.
    status : str
        ``found`` or ``memory``.
    """

    nominal_size: str
    outer_diameter: float
    wall: float
    bore: float
    average_bore: float | None
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class VelocityLimit:
    """Velocity that a material's water should not pass, within a range of temperatures.

    Attributes
    ----------
    use : str
        ``cold``, ``hot``, ``very_hot`` or ``any``.
    lowest_temperature, highest_temperature : float
        Range it holds in: from the lowest, below the highest. [K]
    velocity_limit : float
        The limit. [m/s]
    source : str
        Where it is printed.
    status : str
        ``found`` or ``memory``.
    """

    use: str
    lowest_temperature: float
    highest_temperature: float
    velocity_limit: float
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class PipeMaterial:
    """What is known of one pipe material.

    Attributes
    ----------
    key, title : str
        Name in requests, and in words.
    sizes : Mapping of str to PipeSize
        By nominal size, smallest first.
    roughness : float
        Default absolute roughness of the wall. [m]
    roughness_source : str
        Its table.
    hazen_williams_c : float
        Default Hazen-Williams coefficient. [-]
    hazen_williams_source : str
        Its table.
    velocity_limits : tuple of VelocityLimit
        Without gaps over temperature, coldest first.
    stiffness : Stiffness
        Modulus of elasticity of the wall over temperature.
    ratings : str
        Family in the table of pressure ratings.
    metal : bool
        Whether the wall is metal, which fast water wears.
    """

    key: str
    title: str
    sizes: Mapping[str, PipeSize]
    roughness: float
    roughness_source: str
    hazen_williams_c: float
    hazen_williams_source: str
    velocity_limits: tuple[VelocityLimit, ...]
    stiffness: Stiffness
    ratings: str
    metal: bool


@dataclass(frozen=True, slots=True)
class NoiseLimit:
    """Velocity above which water is noisy in narrow pipes.

    Attributes
    ----------
    highest_bore : float
        Widest bore it is meant for. [m]
    velocity : float
        The velocity. [m/s]
    source : str
        Where it is printed.
    """

    highest_bore: float
    velocity: float
    source: str


@dataclass(frozen=True, slots=True)
class HazenWilliamsValidity:
    """Range in which the Hazen-Williams formula is commonly trusted.

    Attributes
    ----------
    lowest_temperature, highest_temperature : float
        Water temperature. [K]
    smallest_bore : float
        Pipe bore. [m]
    source : str
        Where the range comes from.
    """

    lowest_temperature: float
    highest_temperature: float
    smallest_bore: float
    source: str


def _source(row: Row) -> str:
    cited = f"{row['source']}, {row['section']}" if row["section"] else row["source"]
    cited = f"{cited} ({row['year']})" if row["year"] else cited
    return marked(cited, row["status"])


def _size(row: Row) -> PipeSize:
    return PipeSize(
        nominal_size=row["nominal_size"],
        outer_diameter=float(row["outer_diameter"]),
        wall=float(row["wall"]),
        bore=float(row["bore"]),
        average_bore=float(row["average_bore"]) if row["average_bore"] else None,
        source=f"{row['standard']}: {_source(row)}",
        status=row["status"],
    )


def _limits(family: str) -> tuple[VelocityLimit, ...]:
    limits = [
        VelocityLimit(
            use=row["use"],
            lowest_temperature=float(row["lowest_temperature"] or "-inf"),
            highest_temperature=float(row["highest_temperature"] or "inf"),
            velocity_limit=float(row["velocity_limit"]),
            source=_source(row),
            status=row["status"],
        )
        for row in table("velocity_limits").rows
        if row["family"] == family and row["velocity_limit"]
    ]
    return tuple(sorted(limits, key=lambda limit: limit.lowest_temperature))


def _named(table_name: str, column: str, key: str) -> Row:
    row = table(table_name).row(**{column: key})
    if row is None:
        raise LookupError(f"table {table_name} has no {column} {key}")
    return row


def _material(row: Row) -> PipeMaterial:
    roughness = _named("roughness", "surface", row["roughness"])
    coefficient = _named("hazen_williams_c", "surface", row["hazen_williams_c"])
    sizes = [_size(size) for size in table("pipe_dimensions").rows if size["series"] == row["dimensions"]]
    sizes.sort(key=lambda size: size.bore)
    return PipeMaterial(
        key=row["material"],
        title=row["title"],
        sizes=MappingProxyType({size.nominal_size: size for size in sizes}),
        roughness=float(roughness["roughness_high"]),
        roughness_source=_source(roughness),
        hazen_williams_c=float(coefficient["coefficient"]),
        hazen_williams_source=_source(coefficient),
        velocity_limits=_limits(row["velocity_limits"]),
        stiffness=stiffness(row["elasticity"]),
        ratings=row["ratings"],
        metal=row["elasticity"] in _METALS,
    )


@cache
def pipe_materials() -> Mapping[str, PipeMaterial]:
    """Return every pipe material by its key."""
    return MappingProxyType({row["material"]: _material(row) for row in table("pipe_materials").rows})


@cache
def general_velocity_limits() -> tuple[VelocityLimit, ...]:
    """Return the velocity limits for pipes of any material."""
    return _limits("any")


@cache
def hazen_williams_validity() -> HazenWilliamsValidity:
    """Return the range in which the Hazen-Williams formula is commonly trusted."""
    validity = table("hazen_williams_c").about["validity"]
    return HazenWilliamsValidity(
        lowest_temperature=validity["lowest_temperature"],
        highest_temperature=validity["highest_temperature"],
        smallest_bore=validity["smallest_bore"],
        source=validity["source"],
    )


@cache
def implausible_velocity() -> float:
    """Return the velocity above which no house supply drives water [m/s]."""
    return float(_named("velocity_effects", "effect", "implausible")["velocity"])


@cache
def noise_limit() -> NoiseLimit:
    """Return the velocity above which water is noisy in narrow pipes."""
    row = _named("velocity_effects", "effect", "noise")
    return NoiseLimit(float(row["highest_bore"]), float(row["velocity"]), _source(row))
