"""Cells, interpolation and solutions of contact time by other routes."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator
from scipy.optimize import brentq

from dosewright.core.chlorine import contact_time, ct_cells

LOGS = np.array([2.0, 3.0, 4.0])
KELVINS = np.array([273.65, 278.15, 283.15, 288.15])
PHS = np.array([6.0, 7.0, 8.0])
RESIDUALS = np.array([0.4e-3, 1.0e-3, 2.0e-3])
# Invented, rising with log, pH and residual and falling with temperature.
VALUES = (
    LOGS[:, None, None, None]
    * (10.0 - np.arange(4.0)[None, :, None, None])
    * (2.0 + np.arange(3.0)[None, None, :, None] ** 1.5)
    * (1.0 + 0.03 * np.arange(3.0)[None, None, None, :])
)
TABLE = ct_cells.CellTable(LOGS, KELVINS, PHS, RESIDUALS, VALUES)

logs, kelvins = st.floats(1.0, 4.0), st.floats(270.0, 300.0)
phs, residuals = st.floats(5.0, 8.0), st.floats(0.01e-3, 2.0e-3)


def by_search(log, kelvin, ph, residual):
    """The guidance's cell, by a search of every cell: the lowest CT among those that are no better in any respect."""
    fitting = [
        VALUES[place]
        for place in itertools.product(range(3), range(4), range(3), range(3))
        if LOGS[place[0]] >= log
        and (KELVINS[place[1]] <= kelvin or place[1] == 0)
        and PHS[place[2]] >= ph
        and RESIDUALS[place[3]] >= residual
    ]
    return min(fitting)


@given(logs, kelvins, phs, residuals)
def test_next_cell_is_the_mildest_of_those_no_better_in_any_respect(log, kelvin, ph, residual):
    assert ct_cells.ct_of_next_cell(TABLE, log, kelvin, ph, residual) == by_search(log, kelvin, ph, residual)


@given(st.floats(2.0, 4.0), st.floats(273.65, 288.15), st.floats(6.0, 8.0), st.floats(0.4e-3, 2.0e-3))
def test_interpolation_against_scipy_and_never_above_the_next_cell(log, kelvin, ph, residual):
    between = ct_cells.ct_between_cells(TABLE, log, kelvin, ph, residual)
    other = RegularGridInterpolator((LOGS, KELVINS, PHS, RESIDUALS), VALUES)([[log, kelvin, ph, residual]])[0]
    assert between.ct == pytest.approx(other, rel=1e-10)
    assert between.weights.sum() == pytest.approx(1.0, rel=1e-12)
    assert between.ct <= ct_cells.ct_of_next_cell(TABLE, log, kelvin, ph, residual) * (1.0 + 1e-9)


def test_both_methods_give_the_cells_themselves():
    for place in itertools.product(range(3), range(4), range(3), range(3)):
        at = (LOGS[place[0]], KELVINS[place[1]], PHS[place[2]], RESIDUALS[place[3]])
        assert ct_cells.ct_of_next_cell(TABLE, *at) == VALUES[place]
        assert ct_cells.ct_between_cells(TABLE, *at).ct == pytest.approx(VALUES[place], rel=1e-14)


def test_outside_the_first_marks_and_the_last_temperature_the_edge_is_used():
    low = (1.0, 260.0, 4.0, 1e-6)
    assert ct_cells.ct_of_next_cell(TABLE, *low) == VALUES[0, 0, 0, 0]
    assert ct_cells.ct_between_cells(TABLE, *low).ct == VALUES[0, 0, 0, 0]
    assert ct_cells.ct_of_next_cell(TABLE, 2.0, 310.0, 6.0, 0.4e-3) == VALUES[0, 3, 0, 0]
    assert ct_cells.ct_between_cells(TABLE, 2.0, 310.0, 6.0, 0.4e-3).ct == VALUES[0, 3, 0, 0]


@pytest.mark.parametrize("beyond", [(4.1, 280.0, 7.0, 1e-3), (3.0, 280.0, 8.1, 1e-3), (3.0, 280.0, 7.0, 2.1e-3)])
def test_values_above_the_last_marks_are_refused(beyond):
    for lookup in (ct_cells.ct_of_next_cell, ct_cells.ct_between_cells):
        with pytest.raises(ValueError, match="no cell"):
            lookup(TABLE, *beyond)
    assert not ct_cells.within_table(TABLE, beyond[0], beyond[2], beyond[3])


def test_a_conversion_error_does_not_cost_a_cell():
    # 41 degF and 2 mg/L through other units.
    assert ct_cells.ct_of_next_cell(TABLE, 2.0, (41.0 + 459.67) * 5 / 9, 6.0, 0.4e-3) == VALUES[0, 1, 0, 0]
    assert ct_cells.ct_of_next_cell(TABLE, 2.0, 278.15, 6.0, 2.0 * 1e-3 * (1 + 2e-16)) == VALUES[0, 1, 0, 2]


@given(st.floats(0.5, 3.0), st.floats(273.65, 298.15), st.floats(6.0, 9.0), st.floats(0.4e-3, 3e-3))
def test_regressions_are_proportional_to_the_logs_and_rise_with_ph_and_residual(log, kelvin, ph, residual):
    for regression in (contact_time.smith_regression, contact_time.profiling_regression):
        one = regression(log, kelvin, ph, residual)
        assert regression(2 * log, kelvin, ph, residual) == pytest.approx(2 * one, rel=1e-12)
        assert regression(log, kelvin, ph + 0.1, residual) > one
        assert regression(log, kelvin, ph, residual * 1.1) > one


def test_contact_time_by_hand():
    assert contact_time.contact_time(2.0, 0.3, 0.001) == pytest.approx(600.0)
    with pytest.raises(ValueError, match="baffling"):
        contact_time.contact_time(2.0, 1.01, 0.001)
    with pytest.raises(ValueError, match="flow"):
        contact_time.contact_time(2.0, 0.5, 0.0)


marks = st.lists(st.floats(0.1, 0.5), min_size=2, max_size=6).map(np.cumsum)


@given(marks, st.lists(st.floats(0.0, 0.08), min_size=6, max_size=6), st.floats(0.01, 3.0))
def test_residual_of_steps_is_enough_and_so_is_every_larger_one(rows, growth, first):
    # The residual required if row k's CT applied everywhere rises from row to row.
    needed = [first]
    for more in growth[: len(rows) - 1]:
        needed.append(needed[-1] * (1.0 + more))
    solution = contact_time.residual_for_rows(rows, needed)

    def suffices(residual):
        row = int(np.searchsorted(rows, residual, side="left"))
        return residual >= needed[row] * (1.0 - 1e-12)

    fine = np.linspace(1e-3, rows[-1], 4001)
    if not solution.reached:
        assert not suffices(rows[-1])
        return
    assert suffices(solution.residual)
    assert all(suffices(residual) for residual in fine[fine >= solution.residual])
    lower = solution.residual * (1.0 - 1e-6)
    assert not all(suffices(residual) for residual in [lower, *fine[(fine >= lower) & (fine <= solution.residual)]])


def test_no_required_ct_gives_zero():
    solution = contact_time.residual_for_rows(np.array([1.0, 2.0]), [0.0, 0.0])
    assert solution.reached
    assert solution.residual == 0.0


@given(st.floats(0.05, 3.0), st.floats(1.1, 8.0))
def test_rising_root_against_brent(scale, power):
    def rise(value):
        return np.power(value / scale, power)

    found = contact_time.rising_root(rise, 0.0, 4.0)
    assert found == pytest.approx(brentq(lambda value: rise(value) - 1.0, 1e-9, 4.0, xtol=1e-14), rel=1e-9)
    assert rise(found) >= 1.0


def test_arrays_give_what_their_elements_give_bit_for_bit():
    spread = np.random.default_rng(2)
    log, kelvin = spread.uniform(2, 4, 300), spread.uniform(270, 295, 300)
    ph, residual = spread.uniform(5, 8, 300), spread.uniform(1e-5, 2e-3, 300)
    cases = (
        lambda *at: ct_cells.ct_of_next_cell(TABLE, *at),
        lambda *at: ct_cells.ct_between_cells(TABLE, *at).ct,
        contact_time.smith_regression,
        contact_time.profiling_regression,
        lambda a, b, c, d: contact_time.rising_root(lambda x: x * a / c, 0.0, 4.0 + 0.0 * b * d),
        lambda a, b, c, d: (
            contact_time.residual_for_rows(RESIDUALS, [a * d, 1.01 * a * d, 1.05 * a * d + 0.0 * b * c]).residual
        ),
    )
    for function in cases:
        together = function(log, kelvin, ph, residual)
        alone = [function(float(log[i]), float(kelvin[i]), float(ph[i]), float(residual[i])) for i in range(len(log))]
        assert np.array_equal(together, np.array(alone), equal_nan=True)
