"""An invented UV unit for the examples of the requests."""

__all__ = ["EXAMPLE_CHAMBER", "EXAMPLE_UNIT"]

EXAMPLE_CHAMBER = {
    "chamber_bore": "80 mm",
    "sleeve_outer_diameter": "25 mm",
    "arc_length": "720 mm",
    "chamber_length": "780 mm",
    "uvc_output": "17 W",
    "lamp_ageing_factor": "80 %",
    "sleeve_fouling_factor": "85 %",
    "uvt": "88 %",
}
"""Chamber, lamp and water."""

EXAMPLE_UNIT = {
    **EXAMPLE_CHAMBER,
    "target_dose": "40 mJ/cm2",
    "hydraulics": "tanks_in_series",
    "tanks": "3",
    "inactivation_rate": "0.12 cm2/mJ",
}
"""The same unit with a target dose, hydraulics and a dose response."""
