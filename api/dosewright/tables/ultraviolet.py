"""Tables of the ultraviolet topic: defaults, dose responses of organisms, doses for treatment credit."""

from dataclasses import dataclass
from functools import cache

from dosewright.tables import marked, table

__all__ = [
    "ChamberRange",
    "OrganismResponse",
    "chamber_range",
    "credit_doses",
    "organism_names",
    "organism_response",
    "plausible_limit",
    "uv_default",
]

_CM2_PER_MJ = 0.1  # m²/J
_MJ_PER_CM2 = 10.0  # J/m²
_LN_10 = 2.302585092994045684
_TO_SI = {"mm": 1e-3, "%": 1e-2, "": 1.0}


def uv_default(field: str) -> str:
    """Return the default of a request field as a text with its unit.

    Raises
    ------
    KeyError
        The table has no default for the field.
    """
    row = table("uv_defaults").row(field=field)
    if row is None:
        raise KeyError(field)
    return row["value"]


@cache
def plausible_limit(name: str) -> float:
    """Return what lamps or rated points do not go beyond, in SI.

    Raises
    ------
    KeyError
        The table has no such limit.
    """
    row = table("uv_plausible").row(name=name)
    if row is None or not row["limit"]:
        raise KeyError(name)
    return float(row["limit"])


@dataclass(frozen=True, slots=True)
class ChamberRange:
    """Range of one size of small ultraviolet chambers.

    Attributes
    ----------
    low, high : float
        Ends, in SI.
    source : str
        Where it is from, marked where it was recalled.
    """

    low: float
    high: float
    source: str


@cache
def chamber_range(name: str) -> ChamberRange:
    """Return the range of one size of small chambers.

    Raises
    ------
    KeyError
        The table has no such size.
    """
    row = table("uv_chambers").row(name=name)
    if row is None:
        raise KeyError(name)
    scale = _TO_SI[row["unit"]]
    return ChamberRange(float(row["low"]) * scale, float(row["high"]) * scale, marked(row["source"], row["status"]))


@dataclass(frozen=True, slots=True)
class OrganismResponse:
    """The table's values for one organism.

    Attributes
    ----------
    name, organism, strain : str
        As listed.
    rate : float or None
        First-order rate, base e; None where only points are known. [m²/J]
    doses, logs : tuple of float
        Doses and the log inactivation at each, the first at no dose; straight lines between them.
        [J/m²], [-]
    source, status, caution : str
        Where it is from, how it was checked, what to mind.
    """

    name: str
    organism: str
    strain: str
    rate: float | None
    doses: tuple[float, ...]
    logs: tuple[float, ...]
    source: str
    status: str
    caution: str

    @property
    def dose_most(self) -> float:
        """Greatest dose that the data cover [J/m²]."""
        return self.doses[-1]


def organism_names(*, with_rate: bool) -> tuple[str, ...]:
    """Return the names of organisms in table order: those with a rate only, or all."""
    rows = table("uv_organisms").rows
    return tuple(dict.fromkeys(row["name"] for row in rows if row["form"] == "constant" or not with_rate))


@cache
def organism_response(name: str) -> OrganismResponse:
    """Return the dose response of one organism.

    Raises
    ------
    KeyError
        The table does not hold it.
    """
    rows = [row for row in table("uv_organisms").rows if row["name"] == name]
    if not rows:
        raise KeyError(name)
    first = rows[0]
    rate = None
    if first["form"] == "constant":
        per_log = float(first["rate"])
        # The range ends where the dose or the log inactivation shown does, whichever comes first.
        most = min(float(first["dose_most"]), float(first["log_most"]) / per_log)
        points = [(most, most * per_log)]
        rate = per_log * _LN_10 * _CM2_PER_MJ
    else:
        points = [(float(row["dose"]), float(row["log_inactivation"])) for row in rows]
    where = ", ".join(part for part in (first["source"], first["section"], first["year"]) if part)
    return OrganismResponse(
        name,
        first["organism"],
        first["strain"],
        rate,
        (0.0, *(dose * _MJ_PER_CM2 for dose, _ in points)),
        (0.0, *(log for _, log in points)),
        where,
        first["status"],
        first["caution"],
    )


@cache
def credit_doses(organism: str) -> tuple[tuple[float, float], ...]:
    """Return (log credit, dose [J/m²]) rows for treatment credit, rising.

    Raises
    ------
    KeyError
        The regulation has no such column.
    """
    rows = [row for row in table("uv_credit_doses").rows if row["organism"] == organism]
    if not rows:
        raise KeyError(organism)
    return tuple((float(row["log_credit"]), float(row["dose"]) * _MJ_PER_CM2) for row in rows)
