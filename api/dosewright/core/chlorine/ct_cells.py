"""CT from a table: by the guidance's next cell, or by linear interpolation."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dosewright.core.arrays import Array, Values, refuse_unless
from dosewright.core.constants import ROUNDING

__all__ = ["Between", "CellTable", "ct_between_cells", "ct_of_next_cell", "next_cell", "within_table"]

# A value this share beyond an axis mark is the rounding of a unit conversion, and is treated as the mark.

Whole = NDArray[np.intp] | np.intp


class CellTable(NamedTuple):
    """A table of CT values over four axes, each rising; an axis of one mark has no effect.

    Attributes
    ----------
    logs : array
        Log inactivation [1].
    temperatures : array
        Water temperature [K].
    phs : array
        pH [1].
    residuals : array
        Disinfectant residual [kg/m³].
    values : array
        CT by log, temperature, pH and residual [mg·min/L].
    """

    logs: Array
    temperatures: Array
    phs: Array
    residuals: Array
    values: Array


class Between(NamedTuple):
    """A CT value interpolated between cells.

    Attributes
    ----------
    ct : float or array
        CT [mg·min/L].
    corners : array
        Flat index of each corner cell, along the last axis.
    weights : array
        Weight of each corner, along the last axis.
    """

    ct: Values
    corners: NDArray[np.intp]
    weights: Array


def _at_or_above(axis: Array, value: Values) -> Whole:
    """Index of the first mark that is not below a value; the length of the axis where there is none."""
    return np.searchsorted(axis * (1.0 + ROUNDING), value, side="left")


def _at_or_below(axis: Array, value: Values) -> Whole:
    """Index of the last mark that is not above a value; the first mark is used for all values below it."""
    return np.maximum(np.searchsorted(axis * (1.0 - ROUNDING), value, side="right") - 1, 0)


def within_table(table: CellTable, log: Values, ph: Values, residual: Values) -> NDArray[np.bool_] | np.bool_:
    """Return where a table has a cell at or above the values; every temperature has one at or below.

    Parameters
    ----------
    table : CellTable
        The table.
    log, ph, residual : float or array
        Values to look up. An axis of one mark has no bound.

    Returns
    -------
    bool or array of bool
        Whether `next_cell` answers there.

    Source
    ------
    Definition: a cell at or above the value on every axis.
    """
    inside: NDArray[np.bool_] | np.bool_ = np.isfinite(0.0)
    for axis, value in ((table.logs, log), (table.phs, ph), (table.residuals, residual)):
        if len(axis) > 1:
            inside = np.logical_and(inside, _at_or_above(axis, value) < len(axis))
    return inside


def next_cell(table: CellTable, log: Values, temperature: Values, ph: Values, residual: Values) -> Whole:
    """Flat index of the cell that the guidance uses: next colder, next higher pH, residual and log.

    Parameters
    ----------
    table : CellTable
        The table.
    log, ph, residual : float or array
        What is looked up, within the table; residual in kg/m³.
    temperature : float or array
        Water temperature [K].

    Returns
    -------
    int or array of int
        Index into the flattened values.

    Raises
    ------
    ValueError
        A value is above the table's last mark.

    Source
    ------
    Definition: the next cell on the safe side of each axis.
    """
    refuse_unless(within_table(table, log, ph, residual), "the table has no cell at or above this")
    index: Whole = np.intp(0)
    for axis, place in (
        (table.logs, None if len(table.logs) == 1 else _at_or_above(table.logs, log)),
        (table.temperatures, _at_or_below(table.temperatures, temperature)),
        (table.phs, None if len(table.phs) == 1 else _at_or_above(table.phs, ph)),
        (table.residuals, None if len(table.residuals) == 1 else _at_or_above(table.residuals, residual)),
    ):
        index = index * len(axis) + (0 if place is None else place)
    return index


def ct_of_next_cell(table: CellTable, log: Values, temperature: Values, ph: Values, residual: Values) -> Values:
    """CT of the cell that the guidance uses.

    Parameters
    ----------
    table, log, temperature, ph, residual
        As for `next_cell`.

    Returns
    -------
    float or array
        CT [mg·min/L].

    Raises
    ------
    ValueError
        A value is above the table's last mark.

    Source
    ------
    Definition: the value in `next_cell`.
    """
    return table.values.reshape(-1)[next_cell(table, log, temperature, ph, residual)]


def ct_between_cells(table: CellTable, log: Values, temperature: Values, ph: Values, residual: Values) -> Between:
    """CT by linear interpolation along each axis in turn.

    Parameters
    ----------
    table, log, temperature, ph, residual
        As for `next_cell`. Below the first mark of an axis, and above the last temperature, that mark's value is used.

    Returns
    -------
    Between
        CT, and the corners it was made of.

    Raises
    ------
    ValueError
        A value is above the table's last mark.

    Source
    ------
    Textbook method: linear interpolation along each axis in turn.
    """
    refuse_unless(within_table(table, log, ph, residual), "the table has no cell at or above this")
    shape = np.broadcast_shapes(*(np.shape(value) for value in (log, temperature, ph, residual)))
    corners = np.zeros((*shape, 1), dtype=np.intp)
    weights = np.ones((*shape, 1))
    for axis, value in (
        (table.logs, log),
        (table.temperatures, temperature),
        (table.phs, ph),
        (table.residuals, residual),
    ):
        if len(axis) == 1:
            continue
        held = np.broadcast_to(np.minimum(np.maximum(np.asarray(value, dtype=np.float64), axis[0]), axis[-1]), shape)
        low = np.minimum(_at_or_below(axis, held), len(axis) - 2)
        share = np.minimum(np.maximum((held - axis[low]) / (axis[low + 1] - axis[low]), 0.0), 1.0)
        low, share = low[..., np.newaxis], share[..., np.newaxis]
        corners = np.concatenate([corners * len(axis) + low, corners * len(axis) + low + 1], axis=-1)
        weights = np.concatenate([weights * (1.0 - share), weights * share], axis=-1)
    values = table.values.reshape(-1)[corners] * weights
    # One corner after the other, so that one row alone sums as it does among many.
    total: Values = values[..., 0]
    for corner in range(1, values.shape[-1]):
        total = total + values[..., corner]
    return Between(total if shape else float(total), corners, weights)
