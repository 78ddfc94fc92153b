"""What tests of the chemistry of chlorine ask, and how they read what is said."""

import pytest

from dosewright.calculations.running import run
from dosewright.faults import RequestRefused

__all__ = ["FEED", "codes", "faults"]

FEED = {
    "flow": "30 L/min",
    "free_chlorine": "1 mg/L",
    "chlorine_demand": "2 mg/L",
    "product": {"kind": "liquid", "trade_strength": "12 %"},
    "solution_strength": "6 g/L",
    "tank_volume": "100 L",
    "pump_capacity": "60 mL/min",
    "daily_volume": "1000 L",
}


def codes(given):
    return {warning.code for warning in given.warnings}


def faults(path, request):
    with pytest.raises(RequestRefused) as refusal:
        run(path, request)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}
