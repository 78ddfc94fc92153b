"""Fittings and valves by key, each with its loss coefficient rule."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from dosewright.tables import Row, marked, table

__all__ = ["Fitting", "fittings"]


@dataclass(frozen=True, slots=True)
class Fitting:
    """Loss of one fitting: a constant, or Hooper's two constants.

    Attributes
    ----------
    key : str
        Name in requests.
    form : str
        What the row describes, in words.
    k1, k_infinity : float
        Constants of ``k1/Re + k_infinity (1 + 1 in/bore)``; both 0 where the coefficient is constant. [-]
    loss_coefficient : float
        Constant loss coefficient; 0 where the two constants are used. [-]
    source : str
        Its place in the source.
    status : str
        ``found`` or ``memory``.
    """

    key: str
    form: str
    k1: float
    k_infinity: float
    loss_coefficient: float
    source: str
    status: str


def _fitting(row: Row) -> Fitting:
    cited = ", ".join(part for part in (row["source"], row["section"]) if part)
    return Fitting(
        key=row["fitting"],
        form=row["form"],
        k1=float(row["k1"] or 0),
        k_infinity=float(row["k_infinity"] or 0),
        loss_coefficient=float(row["loss_coefficient"] or 0),
        source=marked(cited, row["status"]),
        status=row["status"],
    )


@cache
def fittings() -> Mapping[str, Fitting]:
    """Return every fitting by its key."""
    rows = (row for row in table("fitting_losses").rows if row["default"] == "yes")
    return MappingProxyType({row["fitting"]: _fitting(row) for row in rows})
