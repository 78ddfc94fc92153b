"""What the wall of a pipe bears and how stiff it is, over temperature, in SI."""

from dataclasses import dataclass
from functools import cache

from dosewright.tables import Row, marked, table

__all__ = ["Ratings", "Stiffness", "ratings", "stiffness"]


@dataclass(frozen=True, slots=True)
class Stiffness:
    """Modulus of elasticity of a material.

    Attributes
    ----------
    temperatures : tuple of float
        Of the rows, coldest first. [K]
    moduli : tuple of float
        At these temperatures. [Pa]
    sources : tuple of str
        Where each is printed.
    """

    temperatures: tuple[float, ...]
    moduli: tuple[float, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ratings:
    """Working pressure of one size of a material.

    Attributes
    ----------
    temperatures : tuple of float
        Up to which each rating holds, coldest first; above the last there is none. [K]
    pressures : tuple of float
        Ratings; empty where no pressure rating was read. [Pa]
    source : str
        Where they are printed.
    """

    temperatures: tuple[float, ...]
    pressures: tuple[float, ...]
    source: str


def _source(row: Row) -> str:
    cited = ", ".join(part for part in (row["source"], row["section"], row["year"]) if part)
    return marked(cited, row["status"])


@cache
def stiffness(family: str) -> Stiffness:
    """Return the modulus of elasticity of a family of materials over temperature.

    Raises
    ------
    LookupError
        The table has no such family.
    """
    rows = sorted(
        (row for row in table("pipe_elasticity").rows if row["family"] == family),
        key=lambda row: float(row["temperature"]),
    )
    if not rows:
        raise LookupError(f"table pipe_elasticity has no family {family}")
    return Stiffness(
        tuple(float(row["temperature"]) for row in rows),
        tuple(float(row["elastic_modulus"]) for row in rows),
        tuple(dict.fromkeys(_source(row) for row in rows)),
    )


@cache
def ratings(family: str, nominal_size: str, outer_diameter: float, wall: float) -> Ratings | None:
    """Return the pressure ratings of one size; None where none were read for it.

    Thermoplastic pipe by schedule is rated by its design stress: pressure = 2 x stress / (DR - 1), where DR is the
    outer diameter over the wall.
    """
    rows = sorted(
        (
            row
            for row in table("pipe_ratings").rows
            if row["family"] == family and row["nominal_size"] in {"", nominal_size}
        ),
        key=lambda row: float(row["temperature"]),
    )
    if not rows:
        return None
    pressures = tuple(
        float(row["pressure"]) if row["pressure"] else 2.0 * float(row["design_stress"]) / (outer_diameter / wall - 1.0)
        for row in rows
        if row["pressure"] or row["design_stress"]
    )
    return Ratings(tuple(float(row["temperature"]) for row in rows), pressures, _source(rows[0]))
