"""Roots of falling functions: known ones, few steps, and each case by itself."""

import numpy as np
import pytest

from dosewright.core.root import falling_root


def counted(function):
    calls = []

    def counting(value):
        calls.append(1)
        return function(value)

    return counting, calls


@pytest.mark.parametrize(
    ("function", "low", "high", "root"),
    [
        (lambda x: 2.0 - x * x, 0.0, 2.0, np.sqrt(2.0)),
        (lambda x: np.exp(-x) - 0.01, 0.0, 50.0, np.log(100.0)),
        (lambda x: 1.0 - np.power(x, 9.0), 0.0, 1.5, 1.0),
        (lambda x: np.cos(x) - x, 0.0, 1.0, 0.7390851332151607),
    ],
)
def test_known_roots_in_few_steps(function, low, high, root):
    function, calls = counted(function)
    found = falling_root(function, np.array([low]), np.array([high]), 40, 1e-13, 1e-9)
    assert found == pytest.approx([root], abs=1e-12)
    assert len(calls) < 25


def test_a_case_that_is_done_stays_where_it_is_whatever_the_others_do():
    goals = np.array([0.5, 1e-9, 0.9, 0.3])

    def root(goal):
        function, calls = counted(lambda x: np.exp(-x) - goal)
        return falling_root(function, np.zeros(goal.shape), np.full(goal.shape, 40.0), 60, 1e-12, 1e-9), len(calls)

    together, steps = root(goals)
    assert np.exp(-together) == pytest.approx(goals, abs=1e-12)
    alone = [root(goals[row : row + 1]) for row in range(4)]
    assert [found[0] for found, _ in alone] == together.tolist()
    assert max(count for _, count in alone) == steps
    assert min(count for _, count in alone) < steps


@pytest.mark.parametrize(("low", "high"), [(2.0, 3.0), (-1.0, 0.5), (2.0, 2.0)])
def test_without_a_crossing_there_is_no_root(low, high):
    assert np.isnan(falling_root(lambda x: 1.0 - x, np.array([low]), np.array([high]), 40, 1e-12, 1e-6)).all()


@pytest.mark.parametrize(("low", "high"), [(1.0, 3.0), (-1.0, 1.0), (1.0, 1.0)])
def test_an_end_on_the_root_is_the_root(low, high):
    found = falling_root(lambda x: 1.0 - x, np.array([low]), np.array([high]), 40, 1e-12, 1e-6)
    assert found == pytest.approx([1.0], abs=1e-12)


def test_a_jump_is_no_root_and_neither_is_one_not_yet_reached():
    ends = np.array([0.0]), np.array([2.0])
    assert np.isnan(falling_root(lambda x: np.where(x < 1.0, 1.0, -1.0), *ends, 60, 1e-12, 1e-6)).all()
    assert np.isnan(falling_root(lambda x: np.exp(-9.0 * x) - 1e-3, *ends, 2, 1e-12, 1e-6)).all()


def test_a_function_that_has_no_value_at_an_end_has_no_root():
    def function(x):
        return np.where(x > 1.5, np.nan, 1.0 - x)

    assert np.isnan(falling_root(function, np.array([0.0]), np.array([2.0]), 40, 1e-12, 1e-6)).all()


def test_cases_without_a_root_leave_the_others_theirs():
    found = falling_root(lambda x: 1.0 - x, np.array([0.0, 2.0]), np.array([3.0, 3.0]), 40, 1e-12, 1e-6)
    assert found[0] == pytest.approx(1.0, abs=1e-12)
    assert np.isnan(found[1])
