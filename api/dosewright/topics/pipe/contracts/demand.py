"""Contracts of demand/peak: the peak flow of a house, from its fixtures."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Items, Measure, Text, default
from dosewright.tables.names import CurveName, FixtureName, FlushSystem

__all__ = [
    "CurveFlow",
    "CurveName",
    "FixtureName",
    "Fixtures",
    "FlushSystem",
    "PeakAnswer",
    "PeakMethod",
    "PeakRequest",
]


PeakMethod: TypeAlias = Literal["largest", "fixture_units", "probability", "simultaneous"]


class Fixtures(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True):
    """Fixtures of one kind: a name from the table, or your own figures. Your figures replace the table's."""

    fixture: Annotated[
        FixtureName | None, Choice("Fixture, by its name in the table of fixtures.", example="shower")
    ] = None
    count: Annotated[Q, Measure("plain", "Number of these fixtures.", at_least="1", at_most="1000", example="2")] = (
        default("1")
    )
    in_use: Annotated[
        Q | None,
        Measure(
            "plain",
            "Number of these fixtures that run at once, for the plain sum. Default: none.",
            at_least="0",
            at_most="1000",
            example="1",
        ),
    ] = None
    flow: Annotated[
        Q | None,
        Measure(
            "flow", "Flow of one fixture in use.", at_least="0.01 L/min", at_most="200 L/min", example="2.5 gal/min"
        ),
    ] = None
    probability: Annotated[
        Q | None,
        Measure(
            "share",
            "Share of the busiest time in which one fixture is in use.",
            at_least="0 %",
            at_most="100 %",
            example="5 %",
        ),
    ] = None
    fixture_units: Annotated[
        Q | None,
        Measure("plain", "Water supply fixture units of one fixture.", at_least="0", at_most="100", example="1.4"),
    ] = None


class PeakRequest(Request, Generic[Q]):
    """Fixtures of the house. With pump flow and tank draw-down, the supply is compared with the peak."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "fixtures fixtures.count fixtures.in_use fixtures.flow fixtures.probability fixtures.fixture_units",
        "percentile peak_duration",
    ) | lower("pump_flow tank_draw_down")

    fixtures: Annotated[list[Fixtures[Q]], Items("Fixtures, one entry per kind.", at_least=1, at_most=30)]
    percentile: Annotated[
        Q,
        Measure(
            "share",
            "Share of the busiest time in which the flow is not exceeded.",
            at_least="50 %",
            at_most="99.9999 %",
            example="99 %",
        ),
    ] = default("99 %")
    curve: Annotated[
        CurveName | None,
        Choice(
            "Published table that converts fixture units to flow. Choose the one of your plumbing code. If "
            "omitted, the largest flow of all tables is used.",
            example="ipc_e103_3",
        ),
    ] = None
    system: Annotated[
        FlushSystem,
        Choice("Column of the table. Fixtures with a flush valve always use the flush-valve column."),
    ] = "flush_tank"
    method: Annotated[PeakMethod, Choice("Method for peak_flow. largest takes the largest of all methods.")] = "largest"
    pump_flow: Annotated[
        Q | None,
        Measure(
            "flow",
            "Pump flow at the cut-in pressure.",
            at_least="0.1 L/min",
            at_most="1 m3/s",
            example="7 gal/min",
        ),
    ] = None
    tank_draw_down: Annotated[
        Q | None,
        Measure(
            "volume",
            "Water that the pressure tank delivers between cut-out and cut-in.",
            at_least="0.1 L",
            at_most="100 m3",
            example="9 gal",
        ),
    ] = None
    peak_duration: Annotated[
        Q, Measure("time", "Duration of the peak.", at_least="1 s", at_most="24 h", example="10 min")
    ] = default("10 min")


class CurveFlow(msgspec.Struct, Generic[N], kw_only=True):
    """Result of one published table for these fixtures."""

    curve: Annotated[CurveName, Choice("Name of the table.")]
    system: Annotated[FlushSystem, Choice("Column used.")]
    flow: Annotated[
        N | None, Measure("flow", "Flow by this table with its fixed allowances; absent if the table cannot be used.")
    ]
    same_code: Annotated[bool, Flag("Whether the fixture units are from the same code as the table, or were entered.")]
    reason: Annotated[str | None, Text("Why the table cannot be used; absent if it can.")]


class PeakAnswer(Answer, Generic[N]):
    """Peak flow by each method side by side, and the flow that the supply delivers."""

    safer: ClassVar[Mapping[str, Safe]] = higher("supply_flow draw_down_time") | lower(
        "peak_flow fixture_units fixture_unit_flow largest_fixture_flow probability_flow mean_flow simultaneous_flow",
        "all_fixtures_flow",
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "the share reached steps with the flow": "probability_reached",
        "the peak, until the tank is empty": "supply_limited_flow",
    }

    peak_flow: Annotated[N, Measure("flow", "Peak flow by the chosen method.")]
    fixture_units: Annotated[N | None, Measure("plain", "Sum of the known fixture units.")]
    fixture_unit_flow: Annotated[
        N | None,
        Measure("flow", "Flow by the chosen table, or by the table with the largest flow; absent if none can be used."),
    ]
    curves: Annotated[list[CurveFlow[N]], Items("All published tables side by side.")]
    largest_fixture_flow: Annotated[
        N | None, Measure("flow", "Flow of the largest single fixture. peak_flow is never below it.")
    ]
    probability_flow: Annotated[
        N | None,
        Measure(
            "flow",
            "Flow not exceeded for the chosen share of the busiest time. Fixtures without a known share "
            "of use are added in full.",
        ),
    ]
    probability_reached: Annotated[
        N | None, Measure("share", "Share of the busiest time in which the flow is at or below probability_flow.")
    ]
    mean_flow: Annotated[N | None, Measure("flow", "Average flow in the busiest time.")]
    simultaneous_flow: Annotated[
        N | None, Measure("flow", "Sum of the fixtures chosen to run at once; absent if none is chosen.")
    ]
    all_fixtures_flow: Annotated[N | None, Measure("flow", "Sum of all fixtures: the most that the house can draw.")]
    supply_flow: Annotated[
        N | None,
        Measure("flow", "Flow that pump and tank can keep up for the duration of the peak; absent without a pump."),
    ]
    supply_limited_flow: Annotated[
        N | None,
        Measure("flow", "Flow available at the peak: all of it while the tank lasts, otherwise at most the pump flow."),
    ]
    draw_down_time: Annotated[
        N | None, Measure("time", "Time until the tank is drawn down at the peak flow; absent if the pump can keep up.")
    ]
