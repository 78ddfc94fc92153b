"""What tests of curves, limits and intervals ask of an invented cabin."""

from __future__ import annotations

import pytest

__all__ = ["CABIN", "PASSAGE", "SPREADS", "TAIL"]

CABIN = {
    "chamber_bore": "76 mm",
    "sleeve_outer_diameter": "23 mm",
    "arc_length": "540 mm",
    "chamber_length": "600 mm",
    "uvc_output": "14 W",
    "uvt": "91 %",
}
SHOULDER = {"kind": "shoulder", "rate": "0.2 cm2/mJ", "shoulder_dose": "8 mJ/cm2"}
TAIL = {"kind": "two_groups", "rate": "0.3 cm2/mJ", "resistant_fraction": 0.001, "resistant_rate": "0.05 cm2/mJ"}
PASSAGES = [
    {"hydraulics": "plug_flow"},
    {"hydraulics": "tanks_in_series", "tanks": "3", "inactivation_rate": "0.12 cm2/mJ"},
    {"hydraulics": "laminar", "inactivation_rate": "0.12 cm2/mJ"},
    {"hydraulics": "tanks_in_series", "tanks": "4", "dose_response": SHOULDER},
    {"hydraulics": "laminar", "dose_response": TAIL},
]
PASSAGE = pytest.mark.parametrize("passage", PASSAGES, ids=lambda one: one["hydraulics"])
SPREADS = [
    {"kind": "standard", "of": "uvt", "uncertainty": "0.5 %"},
    {"kind": "standard", "of": "uvc_output", "uncertainty": "3 %"},
    {"kind": "range", "of": "flow", "low": "95 %", "high": "105 %"},
]
