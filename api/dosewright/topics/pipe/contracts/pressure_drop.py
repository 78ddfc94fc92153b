"""Contracts of pipe/pressure-drop and pipe/largest-flow: a run of pipes, fittings, devices and changes of elevation.

Parallel branches are written in the same flat list. Neighbouring segments with a ``branch`` form one group: segments
with the same letter are in series, different letters are in parallel. A segment without ``branch`` ends the group.
"""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Q, Request
from dosewright.engine.directions import Direction, higher, lower
from dosewright.engine.fields import Choice, Items, Measure, default
from dosewright.tables.names import FittingName
from dosewright.topics.pipe.contracts.velocity import NominalSize, PipeMaterial

__all__ = [
    "Branch",
    "Cartridges",
    "DeviceSegment",
    "ElevationSegment",
    "FittingName",
    "FittingSegment",
    "FrictionMethod",
    "LargestFlowRequest",
    "PipeSegment",
    "PressureDropRequest",
    "RatedDrop",
    "RunRequest",
]

FrictionMethod: TypeAlias = Literal["darcy_weisbach", "hazen_williams"]
Branch: TypeAlias = Literal["a", "b", "c", "d", "e", "f"]
Cartridges: TypeAlias = Literal["clean", "loaded"]

_BRANCH = Choice(
    "Letter of the branch, where the run splits. Neighbouring segments with a branch form one group. Segments "
    "with the same letter are in series; different letters are in parallel. A segment without a branch ends the "
    "group."
)


# With these bounds and those of flow the Reynolds number stays within Moody's chart.
_NARROWEST, _WIDEST = "4 mm", "2 m"


class PipeSegment(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="pipe"):
    """Straight pipe: its length, with either its material and nominal size or its bore and roughness."""

    length: Annotated[Q, Measure("length", "Length of the pipe.", at_least="0 m", at_most="100000 m", example="60 ft")]
    material: Annotated[
        PipeMaterial | None,
        Choice("Pipe material. Sets roughness, Hazen-Williams coefficient and velocity limit."),
    ] = None
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.", example="3/4")] = None
    bore: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Inside diameter, instead of a nominal size.",
            at_least=_NARROWEST,
            at_most=_WIDEST,
            example="20 mm",
        ),
    ] = None
    roughness: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Roughness of the wall, instead of the material's.",
            at_least="0 mm",
            at_most="10 mm",
            example="0.0015 mm",
        ),
    ] = None
    hazen_williams_c: Annotated[
        Q | None,
        Measure(
            "plain",
            "Hazen-Williams coefficient, instead of the material's.",
            at_least="20",
            at_most="160",
            example="140",
        ),
    ] = None
    branch: Annotated[Branch | None, _BRANCH] = None


class FittingSegment(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="fitting"
):
    """Fittings or valves of one sort: a name, a loss coefficient, or an equivalent length.

    They sit in the nearest pipe before them, or else the first after them, unless they have their own size or bore.
    """

    fitting: Annotated[
        FittingName | None, Choice("Fitting, by its name in the table of fittings.", example="elbow_90")
    ] = None
    loss_coefficient: Annotated[
        Q | None,
        Measure(
            "plain",
            "Loss coefficient of one fitting, in velocity heads.",
            at_least="0",
            at_most="1000000",
            example="0.75",
        ),
    ] = None
    equivalent_length: Annotated[
        Q | None,
        Measure(
            "length",
            "Length of straight pipe with the same pressure loss as one fitting.",
            at_least="0 m",
            at_most="100000 m",
            example="2 ft",
        ),
    ] = None
    count: Annotated[Q, Measure("plain", "Number of these fittings.", at_least="1", at_most="1000", example="4")] = (
        default("1")
    )
    material: Annotated[PipeMaterial | None, Choice("Material of the pipe that the fittings sit in.")] = None
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.")] = None
    bore: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Inside diameter, instead of a nominal size.",
            at_least=_NARROWEST,
            at_most=_WIDEST,
            example="20 mm",
        ),
    ] = None
    branch: Annotated[Branch | None, _BRANCH] = None


class RatedDrop(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True):
    """A rated flow of a device, and the pressure drop at this flow."""

    rated_flow: Annotated[
        Q, Measure("flow", "Rated flow.", at_least="0.001 L/min", at_most="1 m3/s", example="12 gal/min")
    ]
    pressure_drop: Annotated[
        Q, Measure("pressure", "Pressure drop at the rated flow.", at_least="0 kPa", at_most="10 MPa", example="4 psi")
    ]


class DeviceSegment(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="device"
):
    """Filter, softener, UV chamber, meter or other device: its Kv, its Cv, or one to five rated points.

    One rated point is scaled with the square of the flow. Two or more are fitted with a power law.
    """

    kv: Annotated[
        Q | None,
        Measure(
            "plain", "Flow in m3/h at a pressure drop of 1 bar.", at_least="0.0001", at_most="100000", example="6.9"
        ),
    ] = None
    cv: Annotated[
        Q | None,
        Measure(
            "plain", "Flow in US gal/min at a pressure drop of 1 psi.", at_least="0.0001", at_most="100000", example="8"
        ),
    ] = None
    rated_points: Annotated[
        list[RatedDrop[Q]] | None,
        Items("Rated points from the data sheet, each a flow and the pressure drop at that flow.", 1, 5),
    ] = None
    loaded_pressure_drop: Annotated[
        Q | None,
        Measure(
            "pressure",
            "Pressure drop of the loaded cartridge at the first rated flow, when it is due for a change.",
            at_least="0 kPa",
            at_most="10 MPa",
            example="15 psi",
        ),
    ] = None
    branch: Annotated[Branch | None, _BRANCH] = None


class ElevationSegment(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="elevation"
):
    """Change of elevation along the run."""

    elevation_change: Annotated[
        Q,
        Measure(
            "length",
            "Height of the outlet above the inlet; negative if the outlet is lower.",
            at_least="-1000 m",
            at_most="1000 m",
            example="9 ft",
        ),
    ]
    branch: Annotated[Branch | None, _BRANCH] = None


def _tilted(*outputs: str) -> dict[tuple[str, str], str]:
    """Return the outputs that can become safer when one of several rated points gets worse."""
    points = ("segments.rated_points.rated_flow", "segments.rated_points.pressure_drop")
    reason = "several points of one device form a curve, which each point tilts"
    return {(point, output): reason for point in points for output in outputs}


class RunRequest(Request, Generic[Q]):
    """The run that the water passes through, in order."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "segments segments.length segments.roughness segments.loss_coefficient segments.equivalent_length",
        "segments.count segments.rated_points.pressure_drop segments.loaded_pressure_drop",
        "segments.elevation_change required_outlet_pressure",
    ) | lower(
        "segments.bore segments.hazen_williams_c segments.kv segments.cv segments.rated_points.rated_flow",
        "water_temperature inlet_pressure pressure_drop_limit",
    )
    segments: Annotated[
        list[PipeSegment[Q] | FittingSegment[Q] | DeviceSegment[Q] | ElevationSegment[Q]],
        Items("Pipes, fittings, devices and changes of elevation, in order.", at_least=1, at_most=200),
    ]
    water_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="100 degC", example="12 degC"),
    ] = default("10 degC")
    method: Annotated[FrictionMethod, Choice("Formula for straight pipe.")] = "darcy_weisbach"
    cartridges: Annotated[
        Cartridges, Choice("State of the devices that have a loaded_pressure_drop: new, or due for a change.")
    ] = "clean"
    inlet_pressure: Annotated[
        Q | None,
        Measure(
            "pressure",
            "Gauge pressure at the start of the run while the water flows. Use the pump pressure at this flow, "
            "or the lowest pressure of the tank: its cut-in pressure.",
            at_least="0 kPa",
            at_most="10 MPa",
            example="50 psi",
        ),
    ] = None
    required_outlet_pressure: Annotated[
        Q | None,
        Measure(
            "pressure",
            "Gauge pressure required at the end of the run.",
            at_least="0 kPa",
            at_most="10 MPa",
            example="20 psi",
        ),
    ] = None
    pressure_drop_limit: Annotated[
        Q | None,
        Measure(
            "pressure",
            "Highest pressure drop allowed for the whole run, changes of elevation included.",
            at_least="-10 MPa",
            at_most="10 MPa",
            example="30 psi",
        ),
    ] = None


class PressureDropRequest(RunRequest[Q], Generic[Q], kw_only=True):
    """Flow, and the run it passes through, in order."""

    worse: ClassVar[Mapping[str, Direction]] = higher("flow")
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = _tilted(
        "pressure_drop", "loaded_pressure_drop", "outlet_pressure", "loaded_outlet_pressure", "within_limit"
    )

    flow: Annotated[
        Q,
        Measure("flow", "Flow through the run.", at_least="0.001 L/min", at_most="50 L/s", example="9 gal/min"),
    ]


class LargestFlowRequest(RunRequest[Q], Generic[Q]):
    """The run and its pressure limit: pressure_drop_limit, or inlet_pressure and required_outlet_pressure."""

    exceptions: ClassVar[Mapping[tuple[str, str], str]] = _tilted("flow", "velocity_limited_flow")
