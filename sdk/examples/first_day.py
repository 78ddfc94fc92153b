"""First day with the service, from Python: the five questions of a water treatment job.

dosewright serve &        python sdk/examples/first_day.py [address]

The house is invented. Put ``InProcess()`` in place of ``Client(address)`` and the same runs without a service.
"""

import sys
from typing import TypedDict

from dosewright_sdk import Answer, Client, InvalidRequestError, ServiceError, ServiceUnreachableError

address = sys.argv[1] if len(sys.argv) > 1 else "http://127.0.0.1:8254"


class Chamber(TypedDict):
    """What both ultraviolet questions ask: chamber and lamp off the data sheet, UVT off the water test."""

    chamber_bore: str
    sleeve_outer_diameter: str
    sleeve_wall: str
    arc_length: str
    chamber_length: str
    sleeve_transmittance: str
    lamp_ageing_factor: str
    sleeve_fouling_factor: str
    target_dose: str
    uvt: str


CHAMBER: Chamber = {
    "chamber_bore": "90 mm",
    "sleeve_outer_diameter": "26 mm",
    "sleeve_wall": "1.5 mm",
    "arc_length": "790 mm",
    "chamber_length": "840 mm",
    "sleeve_transmittance": "90 %",
    "lamp_ageing_factor": "80 %",
    "sleeve_fouling_factor": "88 %",
    "target_dose": "40 mJ/cm2",
    "uvt": "87 %",
}
RATED_POINT = {
    "rated_flow": "52 L/min",
    "uvt": "95 %",
    "dose": "40 mJ/cm2",
    "lamp_ageing_factor": "80 %",
    "sleeve_fouling_factor": "100 %",
}
VESSELS = [
    {"kind": "drilled_casing", "diameter": "6 in", "well_depth": "165 ft", "water_level": "38 ft"},
    {"kind": "pressure_tank", "volume": "32 gal", "fill": "45 %"},
    {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4", "length": "70 ft"},
]
RUN = [
    {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4", "length": "34 ft"},
    {"kind": "fitting", "fitting": "elbow_90", "count": 7},
    {"kind": "device", "rated_points": [{"rated_flow": "10 gal/min", "pressure_drop": "3 psi"}]},
    {"kind": "elevation", "elevation_change": "7 ft"},
]


def show(path: str, answer: Answer, *fields: str) -> None:
    """Print values with their units, then warnings and dangers."""
    for field in fields:
        print(f"{path} {field} = {getattr(answer, field)!r} {answer.units[field]}")
    for warning in answer.warnings:
        print("!", warning.message)
    for caution in answer.cautions:
        print("*", caution.message)


# One client for the whole program: it pools connections, and asks again after a lost one, 429, 502, 503 or 504.
with Client(address, timeout=10.0, retries=2) as client:
    try:
        dose = client.uv.dose(
            **CHAMBER, uvc_output="24 W", flow="8 gal/min", water_temperature="8 degC", hydraulics="plug_flow"
        )
        show("uv/dose", dose, "mean_dose")
        derated = client.uv.derated_flow(**CHAMBER, rated_points=[RATED_POINT], peak_flow="8 gal/min", units="us")
        show("uv/derated-flow", derated, "derated_flow")
        chlorination = client.chlorine.shock(
            vessels=VESSELS,
            product={"kind": "liquid", "sodium_hypochlorite": "6 %"},
            free_chlorine="100 mg/L",
            chlorine_demand="1.5 mg/L",
            ph=7.3,
            water_temperature="8 degC",
            units="us",
        )
        show("chlorine/shock", chlorination, "product_volume", "hold_time")
        velocity = client.pipe.velocity(flow="8 gal/min", material="copper_type_l", nominal_size="3/4", units="us")
        show("pipe/velocity", velocity, "velocity")
        drop = client.pipe.pressure_drop(flow="8 gal/min", segments=RUN, inlet_pressure="45 psi", units="us")
        show("pipe/pressure-drop", drop, "outlet_pressure")
    except ServiceUnreachableError as error:
        sys.exit(f"{error} (is dosewright serve running at {address}?)")
    except ServiceError as error:  # a failing service or a gateway: the request id finds it in the service's logs
        sys.exit(f"{error} request id: {error.request_id}")

    # An invalid request: every fault at once, with its field and how to fix it.
    try:
        client.pipe.velocity(flow="8 gal", bore="20 mm")
    except InvalidRequestError as refusal:
        for fault in refusal.faults:
            print(f"invalid: {fault.pointer} {fault.code}: {fault.message}")
