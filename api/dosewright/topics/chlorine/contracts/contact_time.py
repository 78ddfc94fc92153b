"""Contracts of the contact time: disinfectant, water, and the tanks and pipes it runs through."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Items, Measure, Text, default
from dosewright.tables.names import BafflingName as Baffling
from dosewright.tables.names import CtOrganism as Organism
from dosewright.tables.names import Disinfectant
from dosewright.topics.pipe.contracts.velocity import NominalSize, PipeMaterial

__all__ = [
    "Baffling",
    "Between",
    "ContactAnswer",
    "ContactMethod",
    "ContactPipe",
    "ContactRequest",
    "ContactSegment",
    "ContactTank",
    "DeviationAnswer",
    "DeviationRequest",
    "Disinfectant",
    "MeasuredContact",
    "Organism",
    "RegressionChoice",
    "TemperatureDeviation",
]

ContactMethod: TypeAlias = Literal["table", "smith_1995", "epa_profiling"]
Between: TypeAlias = Literal["guidance", "linear"]
RegressionChoice: TypeAlias = Literal["smith_1995", "epa_profiling"]

_COLDEST, _WARMEST = "0 degC", "50 degC"
_OWN = "in this segment, if different."


class OwnConditions(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True):
    """Conditions that can differ between segments."""

    residual: Annotated[
        Q | None,
        Measure("concentration", f"Residual at the end {_OWN}", above="0 mg/L", at_most="100 mg/L", example="0.6 mg/L"),
    ] = None
    ph: Annotated[Q | None, Measure("plain", f"pH {_OWN}", at_least="4", at_most="11", example="7.4")] = None
    water_temperature: Annotated[
        Q | None,
        Measure("temperature", f"Temperature {_OWN}", at_least=_COLDEST, at_most=_WARMEST, example="11 degC"),
    ] = None


class ContactTank(OwnConditions[Q], Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="tank"):
    """Tank, basin or other vessel: volume at the lowest level, and baffling. Omit the volume to solve for it."""

    volume: Annotated[
        Q | None,
        Measure("volume", "Volume of water at the lowest level.", above="0 L", at_most="100000 m3", example="300 gal"),
    ] = None
    baffling: Annotated[Baffling | None, Choice("Baffling class.", example="unbaffled")] = None
    baffling_factor: Annotated[
        Q | None,
        Measure("plain", "Baffling factor, from a tracer study.", above="0", at_most="1", example="0.3"),
    ] = None


class ContactPipe(OwnConditions[Q], Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="pipe"):
    """Pipe: length, with material and nominal size or bore."""

    length: Annotated[Q, Measure("length", "Length of the pipe.", above="0 m", at_most="100000 m", example="150 ft")]
    material: Annotated[PipeMaterial | None, Choice("Material and series of the pipe.", example="pvc_schedule_40")] = (
        None
    )
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.", example="1")] = None
    bore: Annotated[
        Q | None,
        Measure(
            "small_length",
            "Inside diameter, in place of material and size.",
            at_least="1 mm",
            at_most="3 m",
            example="50 mm",
        ),
    ] = None
    baffling_factor: Annotated[
        Q,
        Measure(
            "plain",
            "Baffling factor; 1 is plug flow. In laminar flow at most 0.527 is used.",
            above="0",
            at_most="1",
            example="1",
        ),
    ] = default("1")


class MeasuredContact(
    OwnConditions[Q], Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="measured"
):
    """Section with a contact time from a tracer study. Omit the time to solve for it."""

    contact_time: Annotated[
        Q | None,
        Measure(
            "time",
            "Time that 90 % of the water stays at least (T10).",
            above="0 s",
            at_most="30 d",
            example="12 min",
        ),
    ] = None


class ContactRequest(Request, Generic[Q]):
    """Organism, disinfectant, water, and the segments it stays in. Omit one value to solve for it."""

    worse: ClassVar[Mapping[str, Direction]] = higher("log_inactivation ph flow segments.ph") | lower(
        "water_temperature residual segments.residual segments.water_temperature segments.volume",
        "segments.baffling_factor segments.length segments.bore segments.contact_time",
    )
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        ("log_inactivation", "refused"): "the table for viruses starts at 2 log",
        ("flow", "inactivation_ratio"): "turbulent flow in a pipe gets more credit",
        ("flow", "log_inactivation_achieved"): "turbulent flow in a pipe gets more credit",
        ("flow", "log_inactivation_credited"): "turbulent flow in a pipe gets more credit",
        ("flow", "ct_achieved"): "turbulent flow in a pipe gets more credit",
        ("flow", "sufficient"): "turbulent flow in a pipe gets more credit",
        ("segments.bore", "inactivation_ratio"): "turbulent flow in a pipe gets more credit",
        ("segments.bore", "log_inactivation_achieved"): "turbulent flow in a pipe gets more credit",
        ("segments.bore", "log_inactivation_credited"): "turbulent flow in a pipe gets more credit",
        ("segments.bore", "ct_achieved"): "turbulent flow in a pipe gets more credit",
        ("segments.bore", "sufficient"): "turbulent flow in a pipe gets more credit",
    }

    organism: Annotated[Organism, Choice("Organism.", example="giardia")]
    log_inactivation: Annotated[Q, Measure("plain", "Required log inactivation.", above="0", at_most="6", example="1")]
    water_temperature: Annotated[
        Q,
        Measure(
            "temperature", "Lowest temperature of the water.", at_least=_COLDEST, at_most=_WARMEST, example="9 degC"
        ),
    ]
    segments: Annotated[
        list[ContactTank[Q] | ContactPipe[Q] | MeasuredContact[Q]],
        Items("Tanks and pipes between the chlorination and the first tap, in order of flow.", 1, 50),
    ]
    ph: Annotated[
        Q | None,
        Measure("plain", "Highest pH, if the table depends on it.", at_least="4", at_most="11", example="7.4"),
    ] = None
    residual: Annotated[
        Q | None,
        Measure(
            "concentration",
            "Lowest residual at the end of the segments. Omit it to solve for it.",
            above="0 mg/L",
            at_most="100 mg/L",
            example="0.8 mg/L",
        ),
    ] = None
    flow: Annotated[
        Q | None,
        Measure(
            "flow", "Highest flow. Omit it to solve for it.", above="0 L/min", at_most="10 m3/s", example="5 gal/min"
        ),
    ] = None
    disinfectant: Annotated[Disinfectant, Choice("Disinfectant.")] = "free_chlorine"
    method: Annotated[
        ContactMethod, Choice("CT table, or one of two published regressions for Giardia by free chlorine.")
    ] = "table"
    interpolation: Annotated[
        Between,
        Choice("Between cells: next colder temperature, higher pH and residual (guidance); or linear interpolation."),
    ] = "guidance"


class ContactSegment(msgspec.Struct, Generic[N], kw_only=True):
    """Result for one segment."""

    kind: Annotated[str, Text("Kind of segment, in the order of the request.")]
    volume: Annotated[N | None, Measure("volume", "Volume of water.")]
    baffling_factor: Annotated[N | None, Measure("plain", "Baffling factor.")]
    residence_time: Annotated[N | None, Measure("time", "Volume divided by flow.")]
    contact_time: Annotated[N, Measure("time", "Contact time (T10).")]
    residual: Annotated[N, Measure("concentration", "Residual at the end of the segment.")]
    ct_achieved: Annotated[N, Measure("ct", "Residual times contact time.")]
    ct_required: Annotated[N, Measure("ct", "CT required for the target in these conditions.")]
    inactivation_ratio: Annotated[N, Measure("plain", "CT achieved divided by CT required.")]
    cell: Annotated[str, Text("Cell of the table used, or the method.")]
    status: Annotated[
        str, Text("found if the digits of every cell used were read in the source, memory if some are recalled.")
    ]


class ContactAnswer(Answer, Generic[N]):
    """CT required and achieved, and the value solved for."""

    safer: ClassVar[Mapping[str, Safe]] = (
        higher("inactivation_ratio log_inactivation_achieved log_inactivation_credited ct_achieved flow_to_meet")
        | lower("residual_to_meet")
        | {"sufficient": True}
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "entered or solved for": "residual flow contact_time",
        "compares two methods": "deviation_from_table",
        "a mean over the segments, weighted by CT; the ratio decides": (
            "ct_required ct_required_table contact_time_to_meet"
        ),
    }

    sufficient: Annotated[bool, Flag("Whether the inactivation ratio is at least 1.")]
    inactivation_ratio: Annotated[N, Measure("plain", "CT achieved divided by CT required, summed over the segments.")]
    log_inactivation_achieved: Annotated[
        N, Measure("plain", "3 log (virus: 4 log) times the ratio of CT achieved to the CT for that log, by the rule.")
    ]
    log_inactivation_credited: Annotated[
        N, Measure("plain", "Log inactivation, limited to the maximum credit of the rule.")
    ]
    ct_required: Annotated[N, Measure("ct", "CT required for the target; the weighted mean if segments differ.")]
    ct_achieved: Annotated[N, Measure("ct", "Residual times contact time, summed over the segments.")]
    solved_for: Annotated[str, Text("Value solved for: residual, flow, volume, contact_time, or nothing.")]
    residual: Annotated[N | None, Measure("concentration", "Residual, entered or solved for.")]
    flow: Annotated[N | None, Measure("flow", "Flow, entered or solved for.")]
    contact_time: Annotated[N, Measure("time", "Contact time (T10) of all segments.")]
    residual_to_meet: Annotated[
        N | None,
        Measure(
            "concentration", "Residual that meets the target, all else unchanged; absent if none in the table does."
        ),
    ]
    flow_to_meet: Annotated[
        N | None,
        Measure("flow", "Highest flow that meets the target, all else unchanged; absent if flow has no effect."),
    ]
    contact_time_to_meet: Annotated[N, Measure("time", "Contact time that meets the target, all else unchanged.")]
    ct_required_table: Annotated[
        N | None, Measure("ct", "CT of the guidance's cell, if a regression or interpolation was requested.")
    ]
    deviation_from_table: Annotated[
        N | None, Measure("share", "Regression or interpolation compared with the cell; negative is unsafe.")
    ]
    segments: Annotated[list[ContactSegment[N]], Items("Each segment, in the order of the request.")]


class DeviationRequest(Request, Generic[Q]):
    """A published regression."""

    undirected: ClassVar[Mapping[str, str]] = {
        "selects a part of the table": "log_inactivation margin",
    }

    regression: Annotated[RegressionChoice, Choice("Regression for Giardia by free chlorine.", example="smith_1995")]
    log_inactivation: Annotated[
        Q,
        Measure(
            "plain",
            "Log inactivation. Cells and regressions are proportional to it.",
            at_least="0.5",
            at_most="3",
            example="3",
        ),
    ] = default("3")
    margin: Annotated[
        Q,
        Measure(
            "ct",
            "Largest shortfall at which a cell is still met. Cells are whole numbers.",
            at_least="0 mg.min/L",
            at_most="100 mg.min/L",
            example="0.5 mg.min/L",
        ),
    ] = default("0.5 mg.min/L")


class TemperatureDeviation(msgspec.Struct, Generic[N], kw_only=True):
    """Regression compared with the cells of one temperature."""

    water_temperature: Annotated[N, Measure("temperature", "Temperature of the cells.")]
    mean: Annotated[N, Measure("share", "Mean relative deviation from the cells.")]
    lowest: Annotated[N, Measure("share", "Largest deviation below a cell.")]
    highest: Annotated[N, Measure("share", "Largest deviation above a cell.")]
    cells: Annotated[N, Measure("plain", "Number of cells.")]
    cells_below: Annotated[N, Measure("plain", "Number of cells that the regression misses by more than the margin.")]


class DeviationAnswer(Answer, Generic[N]):
    """Deviation of a regression from the table it was fitted to."""

    undirected: ClassVar[Mapping[str, str]] = {
        "compares a regression with a table": "mean lowest highest cells cells_below below",
    }

    mean: Annotated[N, Measure("share", "Mean relative deviation over the whole table.")]
    lowest: Annotated[N, Measure("share", "Largest deviation below a cell.")]
    highest: Annotated[N, Measure("share", "Largest deviation above a cell.")]
    cells: Annotated[N, Measure("plain", "Number of cells.")]
    cells_below: Annotated[N, Measure("plain", "Number of cells that the regression misses by more than the margin.")]
    below: Annotated[N, Measure("share", "Share of the cells that the regression misses by more than the margin.")]
    largest_deviation_cell: Annotated[str, Text("Cell with the largest relative deviation.")]
    temperatures: Annotated[list[TemperatureDeviation[N]], Items("Deviations at each temperature.")]
