"""Published CT regressions for Giardia compared with the table they were fitted to."""

from functools import cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Views, calculation
from dosewright.quantities import Numbers
from dosewright.tables.contact_time import ct_table
from dosewright.topics.chlorine.contact.required import REGRESSIONS, add_basis_of_regression
from dosewright.topics.chlorine.contracts.contact_time import (
    DeviationAnswer,
    DeviationRequest,
    RegressionChoice,
    TemperatureDeviation,
)
from dosewright.topics.chlorine.page import chlorine_page

__all__ = ["ct_regression"]


class _Deviations(NamedTuple):
    """Relative deviation of the regression from each cell, and its shortfall [mg·min/L]."""

    share: npt.NDArray[np.float64]
    shortfall: npt.NDArray[np.float64]


@cache
def _deviations(regression: RegressionChoice) -> _Deviations:
    table = ct_table("free_chlorine", "giardia")
    logs, temperatures, phs, residuals = np.meshgrid(
        table.logs, table.temperatures, table.phs, table.residuals, indexing="ij"
    )
    values = np.asarray(REGRESSIONS[regression](logs, temperatures, phs, residuals))
    return _Deviations(values / table.values - 1.0, table.values - values)


def _missed(shortfall: npt.NDArray[np.float64], margin: Numbers) -> Numbers:
    """Return the number of cells missed by more than a margin, for one margin or many."""
    short = np.sort(shortfall, axis=None)
    missed: Numbers = np.asarray(short.size - np.searchsorted(short, margin, side="right"), dtype=np.float64)[()]
    return missed


@calculation(
    "chlorine/ct-regression",
    views=Views(page=chlorine_page),
    request=DeviationRequest,
    answer=DeviationAnswer,
    summary="Deviation of a published CT regression from the table, cell by cell",
    example={"regression": "smith_1995", "log_inactivation": "3", "margin": "0.5 mg.min/L"},
)
def ct_regression(ask: DeviationRequest[Numbers], notes: Notes) -> DeviationAnswer[Numbers]:
    """Regression for Giardia by free chlorine compared with all 588 cells of the regulation's table.

    One of the two published regressions gives less than the table in nearly half of the cells, by up to 11 %. The
    other never gives less, and up to 17 % more.
    """
    table = ct_table("free_chlorine", "giardia")
    share, shortfall = _deviations(ask.regression)
    # Cells are for 3 log: a margin for fewer logs is wider there in proportion.
    margin = ask.margin * (float(table.logs[0]) / ask.log_inactivation)
    below = _missed(shortfall, margin)
    add_basis_of_regression(ask.regression, notes)
    notes.add_basis(
        Basis(
            method="(regression - cell) / cell, for every cell of the table at its temperature, pH and residual",
            source=table.source,
            validity=f"{int(table.recalled.sum())} of {table.values.size} cells are recalled, not read",
        )
    )
    message = "Some cells of the table are recalled, not read. The deviations depend on them: check the table."
    notes.warn("cell_from_memory", "temperatures", message)
    message = "This regression gives less than the table in some cells. Do not use it in place of the table."
    notes.warn("below_table", "cells_below", message, when=below > 0.0)
    notes.caution("ct_credit", "local_rules")
    furthest = int(np.argmax(np.abs(share)))
    return DeviationAnswer(
        mean=float(share.mean()),
        lowest=float(share.min()),
        highest=float(share.max()),
        cells=float(share.size),
        cells_below=below,
        below=below / share.size,
        largest_deviation_cell=table.cells[furthest],
        temperatures=[
            TemperatureDeviation(
                water_temperature=float(temperature),
                mean=float(share[:, place].mean()),
                lowest=float(share[:, place].min()),
                highest=float(share[:, place].max()),
                cells=float(share[:, place].size),
                cells_below=_missed(shortfall[:, place], margin),
            )
            for place, temperature in enumerate(table.temperatures)
        ],
    )
