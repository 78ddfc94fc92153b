"""Laminar flow in a contact pipe is not plug flow: only the T10 of its velocity profile is credited."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from dosewright.core.chlorine.contact_time import LAMINAR_T10
from dosewright.engine.run import run

PATH = "chlorine/contact-time"
PIPE = {"kind": "pipe", "length": "150 m", "bore": "0.1 m"}
WATER = {"organism": "giardia", "log_inactivation": "1", "water_temperature": "10 degC", "ph": "7.4"}


def asked(**changes: Any) -> Any:
    return run(PATH, {**WATER, "residual": "0.8 mg/L", "segments": [PIPE], **changes})


def codes(answer: Any) -> set[str]:
    return {warning.code for warning in answer.warnings}


def test_the_constant_is_the_tenth_percentile_of_the_parabolic_profile():
    # Independent route: the flow inside radius r of the fastest core, a tenth of it, and its slowest streamline.
    radius = np.linspace(0.0, 1.0, 200_001)
    speed = 2.0 * (1.0 - radius**2)  # over the mean
    carried = np.cumsum(speed * 2.0 * radius) * (radius[1] - radius[0])
    slowest_of_fastest_tenth = speed[np.searchsorted(carried, 0.1)]
    assert pytest.approx(1.0 / slowest_of_fastest_tenth, rel=1e-4) == LAMINAR_T10


def test_laminar_flow_is_credited_with_its_fastest_tenth():
    given = asked(flow="5 L/min")
    (segment,) = given.segments
    assert segment.contact_time == pytest.approx(LAMINAR_T10 * segment.residence_time, rel=1e-12)
    assert "pipe_laminar" in codes(given)
    fast = asked(flow="60 L/min")
    assert fast.segments[0].contact_time == pytest.approx(fast.segments[0].residence_time, rel=1e-12)
    assert "pipe_laminar" not in codes(fast)


def test_a_flow_that_would_be_laminar_is_solved_with_the_laminar_credit():
    given = asked()
    again = asked(flow=f"{given.flow!r} L/min")
    assert again.sufficient
    strict = asked(flow="30 L/min", log_inactivation="3")
    assert not strict.sufficient
    assert asked(flow=f"{strict.flow_to_meet!r} L/min", log_inactivation="3").sufficient


@pytest.mark.parametrize("flow", [2, 5, 9, 14, 30, 70])
@pytest.mark.parametrize("log", ["0.5", "1", "2", "3"])
def test_sufficient_and_the_log_achieved_agree(flow: int, log: str):
    given = asked(flow=f"{flow} L/min", log_inactivation=log)
    assert given.sufficient is bool(given.log_inactivation_achieved >= float(log) * (1.0 - 1e-9))
    assert given.log_inactivation_credited == min(given.log_inactivation_achieved, 3.0)
