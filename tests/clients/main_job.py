"""The main job as plain requests, and what it answers in process: what every generated client must say too."""

import json
from typing import Any

import msgspec

from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.run import run
from dosewright.http.formats import FORMATS

__all__ = ["BATCH", "QUESTIONS", "REFUSED", "answers_in_process"]

_CHAMBER: dict[str, Any] = {
    "chamber_bore": "90 mm",
    "sleeve_outer_diameter": "26 mm",
    "sleeve_wall": "1.5 mm",
    "arc_length": {"value": 790, "unit": "mm"},
    "chamber_length": "840 mm",
    "sleeve_transmittance": "90 %",
    "lamp_ageing_factor": "80 %",
    "sleeve_fouling_factor": "88 %",
    "target_dose": "40 mJ/cm2",
    "uvt": "87 %",
}
_RATED_POINT = {
    "rated_flow": "52 L/min",
    "uvt": "95 %",
    "dose": "40 mJ/cm2",
    "lamp_ageing_factor": "80 %",
    "sleeve_fouling_factor": "100 %",
}
QUESTIONS: dict[str, dict[str, Any]] = {
    "uv/dose": {
        **_CHAMBER,
        "uvc_output": "24 W",
        "flow": "8 gal/min",
        "water_temperature": "8 degC",
        "hydraulics": "plug_flow",
    },
    "uv/derated-flow": {**_CHAMBER, "rated_points": [_RATED_POINT], "peak_flow": 8, "units": "us"},
    "chlorine/batch": {
        "vessels": [
            {"kind": "drilled_casing", "diameter": "6 in", "well_depth": "165 ft", "water_level": "38 ft"},
            {"kind": "pressure_tank", "volume": "32 gal", "fill": "45 %"},
            {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4", "length": "70 ft"},
        ],
        "product": {"kind": "liquid", "sodium_hypochlorite": "6 %"},
        "free_chlorine": "100 mg/L",
        "chlorine_demand": "1.5 mg/L",
        "ph": 7.3,
        "water_temperature": "8 degC",
        "units": "us",
    },
    "pipe/velocity": {"flow": "8 gal/min", "material": "copper_type_l", "nominal_size": "3/4", "units": "us"},
    "pipe/pressure-drop": {
        "flow": "8 gal/min",
        "segments": [
            {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4", "length": "34 ft"},
            {"kind": "fitting", "fitting": "elbow_90", "count": 7},
            {"kind": "device", "rated_points": [{"rated_flow": "10 gal/min", "pressure_drop": "3 psi"}]},
            {"kind": "elevation", "elevation_change": "7 ft"},
        ],
        "inlet_pressure": "45 psi",
        "units": "us",
    },
}
BATCH: dict[str, Any] = {"flow": {"value": [6, 8, None], "unit": "gal/min"}, "bore": "20 mm"}
REFUSED: dict[str, Any] = {"flow": "8 gal", "bore": "20 mm"}


def answers_in_process() -> dict[str, Any]:
    """Return every answer as JSON holds it; the batch too."""
    answers: dict[str, Any] = {path: msgspec.to_builtins(run(path, payload)) for path, payload in QUESTIONS.items()}
    answers["pipe/velocity/batch"] = json.loads(FORMATS["json"].render(run_batch("pipe/velocity", BATCH)))
    return answers
