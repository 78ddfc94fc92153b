"""Where raw water comes from, and what that says beside its test."""

from functools import cache

from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.quantities import KINDS, Numbers
from dosewright.tables.site import water_source
from dosewright.tables.ultraviolet import credit_doses
from dosewright.topics.site.contracts.water_check import WaterCheckRequest

__all__ = ["note_origin"]

_UNTOLD = (
    "Where the water comes from was not told: whether parasites and viruses of surface water must be reckoned with "
    "cannot be judged, since no bacteria test shows them."
)


def note_origin(ask: WaterCheckRequest[Numbers], notes: Notes) -> None:
    """Say what follows from where the water comes from, or that it was not told."""
    if ask.water_source is None:
        notes.warn("source_not_told", "water_source", _UNTOLD)
        return
    origin = water_source(ask.water_source)
    if not origin.message:
        return
    message = f"{origin.message} {_viruses()}" if origin.code == "surface_water" else origin.message
    notes.warn(origin.code, "water_source", message)
    validity = "beside the test, not in its place"
    notes.rest_on(Basis(method=f"judged as {origin.title}", source=origin.source, validity=validity))


@cache
def _viruses() -> str:
    """Say how little the usual doses do against viruses, by the table of doses for credit."""
    told = KINDS["dose"].lookup["mJ/cm2"]
    doses = {credit: told.from_si(dose) for credit, dose in credit_doses("virus")}
    least, most = min(doses), max(doses)
    return (
        f"Against viruses 40 CFR 141.720 credits ultraviolet light with {least:g} log at {doses[least]:.4g} mJ/cm2 and "
        f"with {most:g} log only at {doses[most]:.4g} mJ/cm2."
    )
