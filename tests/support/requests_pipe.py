"""What tests of pipes ask, and how they read what is said."""

import pytest

from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run

__all__ = ["DROP", "FOOT", "GALLON_A_MINUTE", "INCH", "PSI", "VELOCITY", "codes", "refused"]

VELOCITY, DROP = "pipe/velocity", "pipe/pressure-drop"
GALLON_A_MINUTE, INCH, FOOT, PSI = 231 * 0.0254**3 / 60, 0.0254, 0.3048, 6894.757293168362


def codes(given):
    return [warning.code for warning in given.warnings]


def refused(path, request):
    with pytest.raises(RequestRefused) as refusal:
        run(path, request)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}
