"""Contracts of the ultraviolet topic: derated flow, from a chamber or from the rated points of a data sheet."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic

import msgspec

from dosewright.engine.base import Answer, N, Q
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Flag, Items, Measure, Text, default
from dosewright.topics.uv.contracts.lamp import (
    ARC,
    BORE,
    CHAMBER,
    OUTPUT,
    SLEEVE,
    UVT,
    LampAndWater,
    PassageChoice,
)

__all__ = ["DeratedFlowAnswer", "DeratedFlowRequest", "DeratingStep", "RatedPoint"]


_RATED_AGEING = Measure(
    "share",
    "Lamp ageing factor that the rated flow is stated for. If omitted, the end of lamp life is assumed.",
    at_least="1 %",
    at_most="100 %",
    example="80 %",
)
_RATED_FOULING = Measure(
    "share",
    "Sleeve fouling factor that the rated flow is stated for. If omitted, a clean sleeve is assumed: 100 %.",
    at_least="1 %",
    at_most="100 %",
    example="100 %",
)


class RatedPoint(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True):
    """A rated flow of the unit, and the conditions of that rating."""

    rated_flow: Annotated[
        Q, Measure("flow", "Rated flow.", at_least="0.01 L/min", at_most="1 m3/s", example="45 L/min")
    ]
    uvt: Annotated[Q, UVT]
    dose: Annotated[
        Q,
        Measure(
            "dose", "Rated dose at that flow and UVT.", above="0 mJ/cm2", at_most="2000 mJ/cm2", example="40 mJ/cm2"
        ),
    ]
    lamp_ageing_factor: Annotated[Q | None, _RATED_AGEING] = None
    sleeve_fouling_factor: Annotated[Q | None, _RATED_FOULING] = None


_CONTRADICT = "rated points that contradict each other are rejected, whichever is wrong"
_IMPOSSIBLE = "a size too small for a published chamber is rejected, whatever its flow"
_RATIO = "with a rated point it affects only a ratio"
_FLOWS = ("derated_flow", "flow_lower_bound", "flow_margin", "covers_peak_flow")
_OF_A_POINT = ("rated_flow", "uvt", "dose", "lamp_ageing_factor", "sleeve_fouling_factor")


class DeratedFlowRequest(LampAndWater[Q], Generic[Q], kw_only=True):
    """Chamber or rated points, with the water, lamp and sleeve to derate for.

    Without rated points the chamber and its UV-C output are required. With rated points nothing else is: unknown
    sizes of the chamber are replaced by their published ranges, and the answer is an interval.
    """

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "rated_points.uvt rated_points.lamp_ageing_factor rated_points.sleeve_fouling_factor",
        "peak_flow safety_factor water_layer outside_diameter",
    ) | lower("rated_points.rated_flow rated_points.dose uvc_output units_in_parallel units_in_series")
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider gap absorbs more but keeps the water longer": "chamber_bore sleeve_outer_diameter chamber_length",
        "a longer arc spreads the same power": "arc_length",
        "a check of the rated points only": "lamp_power",
        "it brings both bounds closer, by less than 2 %": "outside_length",
    }
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        **{(f"rated_points.{name}", "refused"): _CONTRADICT for name in _OF_A_POINT},
        **{(name, "refused"): _IMPOSSIBLE for name in ("water_layer", "outside_diameter")},
        **{(name, output): _RATIO for name in ("wall_reflectance", "sleeve_transmittance") for output in _FLOWS},
    }

    hydraulics: PassageChoice = None
    rated_points: Annotated[
        list[RatedPoint[Q]] | None,
        Items(
            "Rated points from the data sheet, at one or more UVTs. Points at one UVT for several doses must agree "
            "within the rounding of their figures.",
            1,
            20,
        ),
    ] = None
    chamber_bore: Annotated[Q | None, BORE] = None
    sleeve_outer_diameter: Annotated[Q | None, SLEEVE] = None
    arc_length: Annotated[Q | None, ARC] = None
    chamber_length: Annotated[Q | None, CHAMBER] = None
    uvc_output: Annotated[Q | None, OUTPUT] = None
    water_layer: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Thickness of the water layer between sleeve and chamber wall, measured with a caliper. With rated "
            "points, it replaces bore and sleeve.",
            at_least="1 mm",
            at_most="200 mm",
            example="25 mm",
        ),
    ] = None
    outside_diameter: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Outside diameter of the chamber. With rated points, it limits the water layer, by the published "
            "range of walls and sleeves.",
            at_least="20 mm",
            at_most="1 m",
            example="89 mm",
        ),
    ] = None
    outside_length: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Outside length of the chamber. With rated points, it limits arc and chamber length. It has little effect.",
            at_least="50 mm",
            at_most="10 m",
            example="610 mm",
        ),
    ] = None
    lamp_power: Annotated[
        Q | None,
        Measure(
            "power",
            "Electrical power of the lamp. It checks that the rated points are possible, and changes no flow.",
            above="0 W",
            at_most="5 kW",
            example="40 W",
        ),
    ] = None
    units_in_parallel: Annotated[
        Q,
        Measure(
            "plain",
            "Number of equal units side by side. The flow is split evenly.",
            at_least="1",
            at_most="20",
            example="2",
        ),
    ] = default("1")
    units_in_series: Annotated[
        Q,
        Measure(
            "plain",
            "Number of equal units one after the other. The water mixes between them.",
            at_least="1",
            at_most="20",
        ),
    ] = default("1")
    safety_factor: Annotated[
        Q,
        Measure("plain", "Safety factor: the flow is divided by it last.", at_least="1", at_most="100", example="1.2"),
    ] = default("1")
    peak_flow: Annotated[
        Q | None,
        Measure(
            "flow", "Peak flow that the unit must cover.", at_least="0.01 L/min", at_most="1 m3/s", example="35 L/min"
        ),
    ] = None


class DeratingStep(msgspec.Struct, Generic[N], kw_only=True):
    """One step from the first flow to the derated flow."""

    name: Annotated[str, Text("What this step accounts for.")]
    meaning: Annotated[str, Text("Description of the step.")]
    factor: Annotated[N, Measure("plain", "Factor applied to the flow of the step before; 1 at the first step.")]
    flow: Annotated[N, Measure("flow", "Flow after this step.")]


class DeratedFlowAnswer(Answer, Generic[N]):
    """The flow that still delivers the target dose, and the steps to it."""

    safer: ClassVar[Mapping[str, Safe]] = higher("derated_flow flow_lower_bound flow_margin") | {
        "covers_peak_flow": True
    }
    undirected: ClassVar[Mapping[str, str]] = {"describes the chamber": "least_water_layer most_water_layer"}

    derated_flow: Annotated[
        N,
        Measure("flow", "Flow that still delivers the target dose. Where a flow_lower_bound is given, an upper bound."),
    ]
    method: Annotated[str, Text("Method: chamber, one_rated_point, rated_points or data_sheet.")]
    steps: Annotated[
        list[DeratingStep[N]], Items("First flow and factors in order. Their product is the derated flow.", 1, 10)
    ]
    flow_lower_bound: Annotated[
        N | None,
        Measure(
            "flow",
            "Safe-side bound of the derated flow. From a chamber without hydraulics: laminar flow that never "
            "mixes; without an organism, the lowest dose of a streamline. With rated points: the worst of "
            "mixing, of the possible water layers, and of what the points in this and in darker water "
            "support. With rated points, this bound decides whether the peak flow is covered. Short circuits can "
            "be worse.",
        ),
    ]
    lower_bound_steps: Annotated[
        list[DeratingStep[N]],
        Items("From the derated flow to its lower bound, in order; empty without a lower bound.", 0, 10),
    ]
    least_water_layer: Annotated[
        N | None,
        Measure(
            "small_length", "Thinnest water layer that the chamber can have. Given only where the flow depends on it."
        ),
    ]
    most_water_layer: Annotated[
        N | None,
        Measure(
            "small_length", "Thickest water layer that the chamber can have. Given only where the flow depends on it."
        ),
    ]
    covers_peak_flow: Annotated[
        bool | None,
        Flag(
            "Whether the derated flow covers the peak flow; with rated points, whether its lower bound does. "
            "Absent without a peak flow. From a chamber without hydraulics: false where even the upper bound is "
            "too small, otherwise absent."
        ),
    ]
    flow_margin: Annotated[
        N | None,
        Measure(
            "flow",
            "Derated flow minus peak flow; with rated points, its lower bound minus peak flow. Negative if the "
            "unit is too small. Given only with hydraulics or rated points.",
        ),
    ]
