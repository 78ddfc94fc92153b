"""The picture in README.md: what a UV unit still carries in darker water. The unit is invented.

python sdk/examples/derated_flow.py     writes derated_flow.svg next to this file (needs the pictures extra)
"""

from pathlib import Path

from dosewright_sdk import InProcess
from dosewright_sdk.pictures import picture

answer = InProcess().uv.derated_flow(
    uvt="87 %",
    lamp_ageing_factor="80 %",
    sleeve_fouling_factor="88 %",
    rated_points=[
        {
            "rated_flow": "52 L/min",
            "uvt": "95 %",
            "dose": "40 mJ/cm2",
            "lamp_ageing_factor": "80 %",
            "sleeve_fouling_factor": "100 %",
        }
    ],
    chamber_bore="90 mm",
    sleeve_outer_diameter="26 mm",
    sleeve_wall="1.5 mm",
    arc_length="790 mm",
    chamber_length="840 mm",
    target_dose="40 mJ/cm2",
    peak_flow="9 gal/min",
    units="us",
)
picture(answer).save(Path(__file__).with_suffix(".svg"))
print(picture(answer).description)
