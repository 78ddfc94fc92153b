"""What tests of the derated flow ask of an invented unit."""

import assertions as said

__all__ = ["CHAMBER", "PATH", "SIZES", "WATER", "faults"]

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


def faults(request):
    return said.faults(PATH, request)
