"""What tests of the derated flow ask of an invented unit."""

import pytest

from dosewright.calculations.running import run
from dosewright.faults import RequestRefused

__all__ = ["CHAMBER", "PATH", "SIZES", "WATER", "codes", "faults"]

PATH = "uv/derated-flow"
SIZES = {
    "chamber_bore": "76 mm",
    "sleeve_outer_diameter": "23 mm",
    "sleeve_wall": "1.2 mm",
    "arc_length": "540 mm",
    "chamber_length": "600 mm",
}
WATER = {
    "uvt": "86 %",
    "lamp_ageing_factor": "82 %",
    "sleeve_fouling_factor": "88 %",
    "target_dose": "40 mJ/cm2",
    "safety_factor": "1.25",
    "peak_flow": "18 L/min",
}
CHAMBER = {**SIZES, **WATER, "uvc_output": "13 W"}


def codes(given):
    return {warning.code for warning in given.warnings}


def faults(request):
    with pytest.raises(RequestRefused) as refusal:
        run(PATH, request)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}
