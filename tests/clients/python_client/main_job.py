"""The main job through the client that openapi-python-client writes: five questions, answers as JSON."""

import json
import sys

from client import Client
from client.api.chlorine import chlorine_shock
from client.api.pipe import pipe_pressure_drop, pipe_velocity, pipe_velocity_batch
from client.api.uv import uv_derated_flow, uv_dose
from client.models import (
    ChlorineShockRequest,
    DeratedFlowRequestHydraulics,
    DeviceSegment,
    DrilledCasing,
    ElevationSegment,
    FittingName,
    FittingSegment,
    FlowUnit,
    FlowValues,
    LengthUnit,
    LengthValue,
    Liquid,
    NominalSize,
    PipeMaterial,
    PipePressureDropRequest,
    PipeRun,
    PipeSegment,
    PipeVelocityColumns,
    PipeVelocityRequest,
    PressureTank,
    Problem,
    RatedDrop,
    RatedPoint,
    UnitProfile,
    UvDeratedFlowRequest,
    UvDoseRequest,
)

service = Client(base_url=sys.argv[1])


def answered(answer):
    """Return an answer, or say why there is none."""
    if answer is None or isinstance(answer, Problem):
        raise SystemExit(answer and "\n".join(f"{fault.pointer}: {fault.message}" for fault in answer.errors))
    return answer


chamber = {
    "chamber_bore": "90 mm",
    "sleeve_outer_diameter": "26 mm",
    "sleeve_wall": "1.5 mm",
    "arc_length": LengthValue(790, LengthUnit.MM),
    "chamber_length": "840 mm",
    "sleeve_transmittance": "90 %",
    "lamp_ageing_factor": "80 %",
    "sleeve_fouling_factor": "88 %",
    "target_dose": "40 mJ/cm2",
    "uvt": "87 %",
}
dose = uv_dose.sync(
    client=service,
    body=UvDoseRequest(
        **chamber,
        uvc_output="24 W",
        flow="8 gal/min",
        water_temperature="8 degC",
        hydraulics=DeratedFlowRequestHydraulics.PLUG_FLOW,
    ),
)
rated = RatedPoint(
    rated_flow="52 L/min", uvt="95 %", dose="40 mJ/cm2", lamp_ageing_factor="80 %", sleeve_fouling_factor="100 %"
)
derated = uv_derated_flow.sync(
    client=service,
    body=UvDeratedFlowRequest(**chamber, rated_points=[rated], peak_flow=8, units=UnitProfile.US),
)
vessels = [
    DrilledCasing(kind="drilled_casing", diameter="6 in", well_depth="165 ft", water_level="38 ft"),
    PressureTank(kind="pressure_tank", volume="32 gal", fill="45 %"),
    PipeRun(kind="pipe", material=PipeMaterial.COPPER_TYPE_L, nominal_size=NominalSize.N_3_4, length="70 ft"),
]
chlorination = chlorine_shock.sync(
    client=service,
    body=ChlorineShockRequest(
        vessels=vessels,
        product=Liquid(kind="liquid", sodium_hypochlorite="6 %"),
        free_chlorine="100 mg/L",
        chlorine_demand="1.5 mg/L",
        ph=7.3,
        water_temperature="8 degC",
        units=UnitProfile.US,
    ),
)
velocity = pipe_velocity.sync(
    client=service,
    body=PipeVelocityRequest(
        flow="8 gal/min",
        material=PipeMaterial.COPPER_TYPE_L,
        nominal_size=NominalSize.N_3_4,
        units=UnitProfile.US,
    ),
)
segments = [
    PipeSegment(kind="pipe", material=PipeMaterial.COPPER_TYPE_L, nominal_size=NominalSize.N_3_4, length="34 ft"),
    FittingSegment(kind="fitting", fitting=FittingName.ELBOW_90, count=7),
    DeviceSegment(kind="device", rated_points=[RatedDrop(rated_flow="10 gal/min", pressure_drop="3 psi")]),
    ElevationSegment(kind="elevation", elevation_change="7 ft"),
]
drop = pipe_pressure_drop.sync(
    client=service,
    body=PipePressureDropRequest(flow="8 gal/min", segments=segments, inlet_pressure="45 psi", units=UnitProfile.US),
)
batch = pipe_velocity_batch.sync(
    client=service,
    body=PipeVelocityColumns(flow=FlowValues([6, 8, None], FlowUnit.GAL_PER_MIN), bore="20 mm"),
)
# A refusal is typed too.
refusal = pipe_velocity.sync(client=service, body=PipeVelocityRequest(flow="8 gal", bore="20 mm"))

answers = {
    "uv/dose": dose,
    "uv/derated-flow": derated,
    "chlorine/shock": chlorination,
    "pipe/velocity": velocity,
    "pipe/pressure-drop": drop,
    "pipe/velocity/batch": batch,
}
told = {path: answered(answer).to_dict() for path, answer in answers.items()}
told["refused"] = [f"{fault.pointer} {fault.code}" for fault in refusal.errors]
print(json.dumps(told))
