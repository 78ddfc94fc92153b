"""Results of one water test that cannot both be right."""

from typing import Any

from dosewright.core.constants import ROUNDING
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.topics.site.contracts.water_check import WaterCheckRequest

__all__ = ["warn_disagreement"]

_MILLIGRAMS = 1e3  # of a concentration, in the unit of hardness [mg/L]
# As CaCO3, lime weighs the same in hardness and in dissolved solids, magnesium a sixth less; samples differ too.
_MORE_THAN_ALL = 1.25


def warn_disagreement(ask: WaterCheckRequest[Numbers], notes: Notes) -> None:
    """Warn where a part exceeds its whole: a typing error, a wrong unit, or samples from two days."""
    _compare("e_coli", ask.e_coli, "total coliform", ask.total_coliform, "E. coli", 1.0, notes)
    _compare("calcium_hardness", ask.calcium_hardness, "hardness", ask.hardness, "calcium hardness", 1.0, notes)
    dissolved = ask.total_dissolved_solids
    solids = None if dissolved is None else dissolved * _MILLIGRAMS
    _compare("hardness", ask.hardness, "total dissolved solids", solids, "hardness", _MORE_THAN_ALL, notes)


def _compare(
    field: str, part: Numbers | None, whole: str, most: Numbers | None, title: str, times: float, notes: Notes
) -> None:
    if part is None or most is None:
        return
    message = f"The result for {title} is higher than for {whole}, which includes it. Check the values and their units."
    when: Any = part > most * times * (1.0 + ROUNDING)
    notes.warn("results_disagree", field, message, when=when)
