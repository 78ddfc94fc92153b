"""A chamber that tests of the ultraviolet calculations share. Invented."""

from __future__ import annotations

CHAMBER: dict[str, str] = {
    "uvt": "85 %",
    "lamp_ageing_factor": "80 %",
    "sleeve_fouling_factor": "85 %",
    "chamber_bore": "80 mm",
    "sleeve_outer_diameter": "25 mm",
    "arc_length": "720 mm",
    "chamber_length": "780 mm",
    "uvc_output": "17 W",
}
