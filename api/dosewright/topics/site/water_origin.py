"""The source of the raw water, and which risks it adds to the test results."""

from functools import cache

from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.quantities import KINDS, Numbers
from dosewright.tables.site import water_source
from dosewright.tables.ultraviolet import credit_doses
from dosewright.topics.site.contracts.water_check import WaterCheckRequest

__all__ = ["warn_origin"]

_UNTOLD = (
    "The source of the water is not given. Enter water_source: no bacteria test shows the parasites and viruses of "
    "surface water."
)


def warn_origin(ask: WaterCheckRequest[Numbers], notes: Notes) -> None:
    """Warn of the risks of the water's source, or that the source is not given."""
    if ask.water_source is None:
        notes.warn("source_not_given", "water_source", _UNTOLD)
        return
    origin = water_source(ask.water_source)
    if not origin.message:
        return
    message = f"{origin.message} {_viruses()}" if origin.code == "surface_water" else origin.message
    notes.warn(origin.code, "water_source", message)
    validity = "adds to the test, does not replace it"
    notes.add_basis(Basis(method=f"judged as {origin.title}", source=origin.source, validity=validity))


@cache
def _viruses() -> str:
    """Return how little the usual doses do against viruses, from the table of doses for credit."""
    texts = KINDS["dose"].lookup["mJ/cm2"]
    doses = {credit: texts.from_si(dose) for credit, dose in credit_doses("virus")}
    least, most = min(doses), max(doses)
    return (
        f"Against viruses, 40 CFR 141.720 credits UV light with {least:g} log at {doses[least]:.4g} mJ/cm2, and with "
        f"{most:g} log only at {doses[most]:.4g} mJ/cm2."
    )
