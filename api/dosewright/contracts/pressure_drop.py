"""Contracts of pipe/pressure-drop: a run of pipes, fittings, devices and changes of elevation."""

from typing import Annotated, Generic, Literal, TypeAlias

import msgspec

from dosewright.contracts.base import Answer, N, Q, Request
from dosewright.contracts.fields import Choice, Items, Measure, Text, default
from dosewright.contracts.pipe import NominalSize, PipeMaterial

__all__ = [
    "DeviceSegment",
    "ElevationSegment",
    "FittingName",
    "FittingSegment",
    "FrictionMethod",
    "PipeSegment",
    "PressureDropAnswer",
    "PressureDropRequest",
    "SegmentDrop",
]

FrictionMethod: TypeAlias = Literal["darcy_weisbach", "hazen_williams"]

# Kept equal to the defaults of tables/data/fitting_losses.csv by test.
FittingName: TypeAlias = Literal[
    "elbow_90",
    "elbow_90_welded",
    "elbow_90_long_radius",
    "elbow_90_mitred_1_weld",
    "elbow_90_mitred_2_welds",
    "elbow_90_mitred_3_welds",
    "elbow_90_mitred_4_welds",
    "elbow_90_mitred_5_welds",
    "elbow_45",
    "elbow_45_long_radius",
    "elbow_45_mitred_1_weld",
    "elbow_45_mitred_2_welds",
    "elbow_square",
    "return_bend",
    "return_bend_welded",
    "return_bend_long_radius",
    "tee_branch",
    "tee_branch_long_radius",
    "tee_branch_welded",
    "tee_branch_stub_in",
    "tee_run",
    "tee_run_welded",
    "tee_run_stub_in",
    "coupling",
    "union",
    "gate_valve_open",
    "gate_valve_3_4_open",
    "gate_valve_1_2_open",
    "gate_valve_1_4_open",
    "ball_valve_open",
    "ball_valve_full_bore",
    "plug_valve_open",
    "globe_valve_open",
    "angle_valve_open",
    "diaphragm_valve_open",
    "butterfly_valve_open",
    "lift_check_valve",
    "swing_check_valve",
    "tilting_disc_check_valve",
    "disc_check_valve",
    "ball_check_valve",
    "foot_valve",
    "water_meter_disc",
    "water_meter_piston",
    "pipe_entrance",
    "pipe_exit",
]

# With these bounds and those of flow the Reynolds number stays within Moody's chart.
_NARROWEST, _WIDEST = "4 mm", "2 m"


class PipeSegment(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="pipe"):
    """Straight pipe: its length, and its material and nominal size, or its bore and roughness."""

    length: Annotated[Q, Measure("length", "Length of pipe.", at_least="0 m", at_most="100000 m", example="60 ft")]
    material: Annotated[
        PipeMaterial | None,
        Choice("Material of the pipe; sets its roughness, Hazen-Williams coefficient and velocity limit."),
    ] = None
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.", example="3/4")] = None
    bore: Annotated[
        Q | None,
        Measure("small_length", "Inside diameter, in place of a nominal size.", at_least=_NARROWEST, at_most=_WIDEST),
    ] = None
    roughness: Annotated[
        Q | None,
        Measure("small_length", "Roughness of the wall, in place of the material's.", at_least="0 mm", at_most="10 mm"),
    ] = None
    hazen_williams_c: Annotated[
        Q | None,
        Measure("plain", "Hazen-Williams coefficient, in place of the material's.", at_least="20", at_most="160"),
    ] = None


class FittingSegment(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="fitting"
):
    """Fittings or valves of one sort: a name, a loss coefficient, or an equivalent length.

    They sit in the nearest pipe before them (else the first after them), unless a material and size or a bore is given.
    """

    fitting: Annotated[FittingName | None, Choice("Fitting, as in the table of fittings.", example="elbow_90")] = None
    loss_coefficient: Annotated[
        Q | None,
        Measure("plain", "Velocity heads lost in one of them.", at_least="0", at_most="1000000"),
    ] = None
    equivalent_length: Annotated[
        Q | None,
        Measure("length", "Length of straight pipe that loses as much.", at_least="0 m", at_most="100000 m"),
    ] = None
    count: Annotated[Q, Measure("plain", "How many of them.", at_least="1", at_most="1000", example="4")] = default("1")
    material: Annotated[PipeMaterial | None, Choice("Material of the pipe they sit in.")] = None
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.")] = None
    bore: Annotated[
        Q | None,
        Measure("small_length", "Inside diameter, in place of a nominal size.", at_least=_NARROWEST, at_most=_WIDEST),
    ] = None


class DeviceSegment(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="device"
):
    """Filter, chamber, meter or other device: its Kv, its Cv, or one rated flow and pressure drop."""

    kv: Annotated[Q | None, Measure("plain", "Flow in m3/h that costs 1 bar.", at_least="0.0001", at_most="100000")] = (
        None
    )
    cv: Annotated[
        Q | None, Measure("plain", "Flow in US gal/min that costs 1 psi.", at_least="0.0001", at_most="100000")
    ] = None
    rated_flow: Annotated[
        Q | None,
        Measure("flow", "Flow of the rated point.", at_least="0.001 L/min", at_most="1 m3/s", example="12 gal/min"),
    ] = None
    rated_pressure_drop: Annotated[
        Q | None,
        Measure("pressure", "Pressure drop at the rated flow.", at_least="0 kPa", at_most="10 MPa", example="4 psi"),
    ] = None


class ElevationSegment(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="elevation"
):
    """Change of elevation along the run."""

    elevation_change: Annotated[
        Q,
        Measure(
            "length",
            "Height of the outlet above the inlet; negative for a fall.",
            at_least="-1000 m",
            at_most="1000 m",
            example="9 ft",
        ),
    ]


class PressureDropRequest(Request, Generic[Q]):
    """Flow, and the run it passes through, in order."""

    flow: Annotated[
        Q,
        Measure("flow", "Flow through the run.", at_least="0.001 L/min", at_most="50 L/s", example="9 gal/min"),
    ]
    segments: Annotated[
        list[PipeSegment[Q] | FittingSegment[Q] | DeviceSegment[Q] | ElevationSegment[Q]],
        Items("Pipes, fittings, devices and changes of elevation, in order.", at_least=1, at_most=200),
    ]
    water_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="100 degC", example="12 degC"),
    ] = default("10 degC")
    method: Annotated[FrictionMethod, Choice("Formula for straight pipe.")] = "darcy_weisbach"
    inlet_pressure: Annotated[
        Q | None,
        Measure(
            "pressure",
            "Gauge pressure where the run starts, while the water flows.",
            at_least="0 kPa",
            at_most="10 MPa",
            example="50 psi",
        ),
    ] = None


class SegmentDrop(msgspec.Struct, Generic[N], kw_only=True):
    """What one segment of the run does."""

    pressure_drop: Annotated[N, Measure("pressure", "Pressure drop of the segment; negative where the run falls.")]
    velocity: Annotated[N | None, Measure("velocity", "Mean velocity in the pipe.")] = None
    bore: Annotated[N | None, Measure("small_length", "Inside diameter of the pipe.")] = None
    reynolds_number: Annotated[N | None, Measure("plain", "Reynolds number in the pipe.")] = None
    regime: Annotated[str | None, Text("laminar, transition or turbulent.")] = None
    friction_factor: Annotated[N | None, Measure("plain", "Darcy friction factor of the pipe.")] = None
    loss_coefficient: Annotated[N | None, Measure("plain", "Velocity heads lost in all fittings of the segment.")] = (
        None
    )


class PressureDropAnswer(Answer, Generic[N]):
    """Pressure drop of the whole run and of each segment, in the order asked."""

    pressure_drop: Annotated[N, Measure("pressure", "Pressure drop of the whole run, changes of elevation included.")]
    outlet_pressure: Annotated[
        N | None, Measure("pressure", "Gauge pressure where the run ends, if the inlet pressure was given.")
    ]
    segments: Annotated[list[SegmentDrop[N]], Items("One entry a segment, in the order asked.")]
