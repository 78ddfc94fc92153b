"""What tests of contact time ask."""

import assertions as said
from dosewright.engine.run import run

__all__ = ["PATH", "WHOLE", "ask", "faults", "measured"]

PATH = "chlorine/contact-time"
# An invented cottage.
WHOLE = {
    "organism": "giardia",
    "log_inactivation": "1",
    "water_temperature": "9 degC",
    "ph": "7.4",
    "residual": "0.8 mg/L",
    "flow": "20 L/min",
    "segments": [
        {"kind": "tank", "volume": "1 m3", "baffling": "poor"},
        {"kind": "pipe", "bore": "50 mm", "length": "60 m"},
        {"kind": "measured", "contact_time": "4 min"},
    ],
}


def ask(**changes):
    return run(PATH, {**WHOLE, **changes})


def faults(**changes):
    return said.faults(PATH, {**WHOLE, **changes})


def measured(time, **own):
    return [{"kind": "measured", "contact_time": time, **own}]
