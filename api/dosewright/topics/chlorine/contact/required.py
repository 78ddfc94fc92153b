"""CT required for a target: from the table's cells, or from a published regression on request."""

from functools import cache
from typing import Any, NamedTuple

import numpy as np

from dosewright.core.chlorine import ct_cells
from dosewright.core.chlorine.contact_time import profiling_regression, smith_regression
from dosewright.core.chlorine.ct_cells import CellTable
from dosewright.core.constants import ROUNDING
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes, label
from dosewright.engine.sentences import capitalised
from dosewright.quantities import Numbers
from dosewright.tables.contact_time import CtTable, ct_table, ct_table_names
from dosewright.topics.chlorine.contracts.contact_time import ContactRequest, RegressionChoice

__all__ = [
    "REGRESSIONS",
    "Conditions",
    "Required",
    "add_basis_of_regression",
    "check_conditions",
    "check_table",
    "guidance_ct",
    "needs_ph",
    "required_ct",
    "table_of",
    "warn_table",
]

REGRESSIONS = {"smith_1995": smith_regression, "epa_profiling": profiling_regression}
_LOWEST_REGRESSED = 0.4e-3  # kg/m³: the table's first residual, from which the regressions were compared
_LOWEST_PH_REGRESSED = 6.0
_COLDEST_REGRESSED, _WARMEST_REGRESSED = 273.65, 298.15  # K
_STATUS = ("found", "memory")

_SOURCES = {
    "smith_1995": Basis(
        method="CT = 0.2828 pH^2.69 C^0.15 0.933^(T - 5) L, C in mg/L, T in degC",
        source="Smith, Clark, Pierce and Regli (1995), Aqua 44, 203, as quoted",
        validity="0.5 to 25 degC, pH 6 to 9, 0.4 to 3 mg/L; 11 % below to 8 % above the regulation's table",
    ),
    "epa_profiling": Basis(
        method="CT = 0.353 L (12.006 + e^(2.46 - 0.073 T + 0.125 C + 0.389 pH)) below 12.5 degC, else "
        "0.361 L (-2.261 + e^(2.69 - 0.065 T + 0.111 C + 0.361 pH)), C in mg/L, T in degC",
        source="EPA 815-R-20-003, Disinfection Profiling and Benchmarking (2020), appendix [from memory]",
        validity="0.5 to 25 degC, pH 6 to 9, 0.4 to 3 mg/L; 0 to 17 % above the regulation's table",
    ),
}


class Conditions(NamedTuple):
    """Conditions that a CT depends on.

    Attributes
    ----------
    residual : float or array
        Residual [kg/m³].
    ph : float or array
        pH [1].
    temperature : float or array
        Temperature [K].
    """

    residual: Numbers
    ph: Numbers
    temperature: Numbers


class Required(NamedTuple):
    """CT required for a target.

    Attributes
    ----------
    ct : float or array
        CT [mg·min/L].
    recalled : bool or array of bool
        Whether a cell used is recalled, not read.
    cell : text, or labels
        The cell, or the method.
    """

    ct: Numbers
    recalled: Any
    cell: Any

    @property
    def status(self) -> Any:
        """``found`` or ``memory``, row by row."""
        return label(np.asarray(self.recalled).astype(np.intp)[()], _STATUS)


def table_of(ask: ContactRequest[Numbers]) -> CtTable:
    """Return the CT table of a request."""
    return ct_table(ask.disinfectant, ask.organism)


@cache
def _core(disinfectant: str, organism: str) -> CellTable:
    found = ct_table(disinfectant, organism)
    return CellTable(found.logs, found.temperatures, found.phs, found.residuals, found.values)


def _logs(table: CtTable, log: Numbers) -> tuple[Numbers, Numbers]:
    """Return the log to look up, and the factor for its cell."""
    return (float(table.logs[0]), log / table.logs[0]) if table.proportional else (log, 1.0)


def guidance_ct(ask: ContactRequest[Numbers], log: Numbers, at: Conditions) -> Required:
    """Return the CT of the cell that the guidance uses."""
    table = table_of(ask)
    looked_up, factor = _logs(table, log)
    cells = _core(ask.disinfectant, ask.organism)
    index = ct_cells.next_cell(cells, looked_up, at.temperature, at.ph, at.residual)
    ct = table.values.reshape(-1)[index] * factor
    return Required(ct, table.recalled.reshape(-1)[index], label(index, table.cells))


def required_ct(ask: ContactRequest[Numbers], log: Numbers, at: Conditions) -> Required:
    """Return the CT by the requested method and rule."""
    if ask.method != "table":
        ct = REGRESSIONS[ask.method](log, at.temperature, at.ph, at.residual)
        return Required(ct, np.bool_(ask.method == "epa_profiling"), f"regression {ask.method}")
    if ask.interpolation == "guidance":
        return guidance_ct(ask, log, at)
    table = table_of(ask)
    looked_up, factor = _logs(table, log)
    between = ct_cells.ct_between_cells(
        _core(ask.disinfectant, ask.organism), looked_up, at.temperature, at.ph, at.residual
    )
    recalled = np.any(table.recalled.reshape(-1)[between.corners] & (between.weights > 0.0), axis=-1)
    return Required(between.ct * factor, recalled[()], f"{table.name}: interpolated")


def check_table(ask: ContactRequest[Numbers], notes: Notes) -> None:
    """Reject disinfectant and organism without a table, logs outside it, and a regression for another pair."""
    pair = (ask.disinfectant, ask.organism)
    if pair not in ct_table_names():
        allowed = [organism for disinfectant, organism in ct_table_names() if disinfectant == ask.disinfectant]
        message = f"No CT table is published for {ask.organism} by {ask.disinfectant.replace('_', ' ')}."
        notes.refuse("no_table", "organism", message, allowed=allowed)
        return
    table = table_of(ask)
    if ask.method != "table" and pair != ("free_chlorine", "giardia"):
        message = "The regressions are only for Giardia by free chlorine. Use method table here."
        notes.refuse("not_applicable", "method", message, allowed=["table"])
    lowest = 0.5 if table.proportional else float(table.logs[0])
    highest = float(table.logs[-1])
    for outside, nearest in ((ask.log_inactivation < lowest, lowest), (ask.log_inactivation > highest, highest)):
        message = f"The table covers {lowest:g} to {highest:g} log. The nearest value is {nearest:g}."
        notes.refuse("out_of_table", "log_inactivation", message, when=outside, allowed=f"{lowest:g} to {highest:g}")


def needs_ph(ask: ContactRequest[Numbers]) -> bool:
    """Return whether the table depends on pH."""
    return table_of(ask).highest_ph is not None


def check_conditions(
    ask: ContactRequest[Numbers],
    ph: Numbers | None,
    temperature: Numbers | None,
    residual: Numbers | None,
    at: str,
    notes: Notes,
) -> None:
    """Reject values outside the table, with the nearest value in it."""
    table = table_of(ask)
    regressed = ask.method != "table"
    if ph is not None and table.highest_ph is not None:
        low = _LOWEST_PH_REGRESSED if regressed else table.lowest_ph
        if low is not None:
            _refuse_beyond(ph < low * (1.0 - ROUNDING), "pH", f"{low:g}", f"{at}ph", notes)
        beyond = ph > table.highest_ph * (1.0 + ROUNDING)
        _refuse_beyond(beyond, "pH", f"{table.highest_ph:g}", f"{at}ph", notes)
    if residual is not None and len(table.residuals) > 1:
        highest = float(table.residuals[-1])
        beyond = residual > highest * (1.0 + ROUNDING)
        _refuse_beyond(beyond, "the residual", f"{highest * 1e3:g} mg/L", f"{at}residual", notes)
        if regressed:
            below = residual < _LOWEST_REGRESSED * (1.0 - ROUNDING)
            _refuse_beyond(below, "the residual", f"{_LOWEST_REGRESSED * 1e3:g} mg/L", f"{at}residual", notes)
    if temperature is not None and regressed:
        coldest, warmest = _COLDEST_REGRESSED, _WARMEST_REGRESSED
        field = f"{at}water_temperature"
        _refuse_beyond(temperature < coldest - 1e-6, "temperature", f"{coldest - 273.15:g} degC", field, notes)
        _refuse_beyond(temperature > warmest + 1e-6, "temperature", f"{warmest - 273.15:g} degC", field, notes)


def _refuse_beyond(beyond: Any, what: str, nearest: str, field: str, notes: Notes) -> None:
    message = f"{capitalised(what)} is outside the table. The nearest value is {nearest}."
    notes.refuse("out_of_table", field, message, when=beyond, allowed=nearest)


def add_basis_of_regression(name: RegressionChoice, notes: Notes) -> None:
    """Add the source and validity of a regression."""
    notes.add_basis(_SOURCES[name])


def warn_table(ask: ContactRequest[Numbers], recalled: Any, notes: Notes) -> None:
    """Add the table or regression as basis, and warn of recalled cells."""
    table = table_of(ask)
    rule = (
        "next colder temperature, next higher pH, residual and log"
        if ask.interpolation == "guidance"
        else "linear interpolation between the cells around the water's values"
    )
    ways = "proportional to log; " if table.proportional else ""
    notes.add_basis(
        Basis(
            method=f"CT from {table.name}: {ways}{rule}",
            source=table.source,
            validity="the first columns include colder water and lower pH and residual, the last one warmer water; the "
            "authority that grants the credit decides",
        )
    )
    if ask.method != "table":
        add_basis_of_regression(ask.method, notes)
    message = "A cell of the table used here is recalled, not read. Look it up before you decide on it."
    if ask.method == "epa_profiling":
        message = "The digits of this regression are recalled, not read. Look them up before you decide on them."
    notes.warn("cell_from_memory", "segments.ct_required", message, when=recalled)
