"""Contracts of chlorine/contact-time: disinfectant, water, and the tanks and pipes it runs through."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Items, Measure, Text, default
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

Disinfectant: TypeAlias = Literal["free_chlorine", "chlorine_dioxide", "ozone", "chloramine"]
Organism: TypeAlias = Literal["giardia", "virus", "cryptosporidium"]
ContactMethod: TypeAlias = Literal["table", "smith_1995", "epa_profiling"]
Between: TypeAlias = Literal["guidance", "linear"]
RegressionChoice: TypeAlias = Literal["smith_1995", "epa_profiling"]
# Kept equal to the table by test.
Baffling: TypeAlias = Literal[
    "unbaffled", "diffuser_walls", "poor", "average", "superior", "near_plug_flow", "plug_flow"
]

_COLDEST, _WARMEST = "0 degC", "50 degC"
_OWN = "in this segment, where it differs."


class OwnConditions(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True):
    """What may differ from segment to segment."""

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
    """Tank, basin or other vessel: its volume at the lowest level, left out to be solved for, and its baffling."""

    volume: Annotated[
        Q | None,
        Measure("volume", "Water it holds at its lowest level.", above="0 L", at_most="100000 m3", example="300 gal"),
    ] = None
    baffling: Annotated[Baffling | None, Choice("Class of baffling.", example="unbaffled")] = None
    baffling_factor: Annotated[
        Q | None,
        Measure("plain", "Baffling factor, from a tracer study.", above="0", at_most="1", example="0.3"),
    ] = None


class ContactPipe(OwnConditions[Q], Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="pipe"):
    """Pipe: its length, and its material and nominal size, or its bore."""

    length: Annotated[Q, Measure("length", "Length of the pipe.", above="0 m", at_most="100000 m", example="150 ft")]
    material: Annotated[PipeMaterial | None, Choice("Material and series of the pipe.", example="pvc_schedule_40")] = (
        None
    )
    nominal_size: Annotated[NominalSize | None, Choice("Nominal size in inches.", example="1")] = None
    bore: Annotated[
        Q | None,
        Measure("small_length", "Inside diameter, instead.", at_least="1 mm", at_most="3 m", example="50 mm"),
    ] = None
    baffling_factor: Annotated[
        Q,
        Measure(
            "plain",
            "Baffling factor; 1 is plug flow. Laminar flow counts 0.527 at most.",
            above="0",
            at_most="1",
            example="1",
        ),
    ] = default("1")


class MeasuredContact(
    OwnConditions[Q], Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="measured"
):
    """Stretch whose contact time was measured with a tracer; left out to be solved for."""

    contact_time: Annotated[
        Q | None,
        Measure(
            "time",
            "Time that nine tenths of the water stays at least (T10).",
            above="0 s",
            at_most="30 d",
            example="12 min",
        ),
    ] = None


class ContactRequest(Request, Generic[Q]):
    """What is to be inactivated, by what, in which water; and where the water stays. One value may be left to solve."""

    worse: ClassVar[Mapping[str, Direction]] = higher("log_inactivation ph flow segments.ph") | lower(
        "water_temperature residual segments.residual segments.water_temperature segments.volume",
        "segments.baffling_factor segments.length segments.bore segments.contact_time",
    )
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        ("log_inactivation", "refused"): "the table for viruses starts at 2 log",
        ("flow", "inactivation_ratio"): "a pipe that turns turbulent is credited with more",
        ("flow", "log_inactivation_achieved"): "a pipe that turns turbulent is credited with more",
        ("flow", "log_inactivation_credited"): "a pipe that turns turbulent is credited with more",
        ("flow", "ct_achieved"): "a pipe that turns turbulent is credited with more",
        ("flow", "sufficient"): "a pipe that turns turbulent is credited with more",
        ("segments.bore", "inactivation_ratio"): "a pipe that turns turbulent is credited with more",
        ("segments.bore", "log_inactivation_achieved"): "a pipe that turns turbulent is credited with more",
        ("segments.bore", "log_inactivation_credited"): "a pipe that turns turbulent is credited with more",
        ("segments.bore", "ct_achieved"): "a pipe that turns turbulent is credited with more",
        ("segments.bore", "sufficient"): "a pipe that turns turbulent is credited with more",
    }

    organism: Annotated[Organism, Choice("Organism.", example="giardia")]
    log_inactivation: Annotated[Q, Measure("plain", "Log inactivation wanted.", above="0", at_most="6", example="1")]
    water_temperature: Annotated[
        Q,
        Measure(
            "temperature", "Lowest temperature of the water.", at_least=_COLDEST, at_most=_WARMEST, example="9 degC"
        ),
    ]
    segments: Annotated[
        list[ContactTank[Q] | ContactPipe[Q] | MeasuredContact[Q]],
        Items("Where the disinfected water stays before the first tap, in the order it runs.", 1, 50),
    ]
    ph: Annotated[
        Q | None,
        Measure("plain", "Highest pH, where the table depends on it.", at_least="4", at_most="11", example="7.4"),
    ] = None
    residual: Annotated[
        Q | None,
        Measure(
            "concentration",
            "Lowest residual at the end of the segments; left out to be solved for.",
            above="0 mg/L",
            at_most="100 mg/L",
            example="0.8 mg/L",
        ),
    ] = None
    flow: Annotated[
        Q | None,
        Measure(
            "flow", "Highest flow; left out to be solved for.", above="0 L/min", at_most="10 m3/s", example="5 gal/min"
        ),
    ] = None
    disinfectant: Annotated[Disinfectant, Choice("Disinfectant.")] = "free_chlorine"
    method: Annotated[
        ContactMethod, Choice("The table, or by name one of two published regressions for Giardia by free chlorine.")
    ] = "table"
    between: Annotated[
        Between,
        Choice("Between cells: the guidance's next colder, higher pH, higher residual; or linear interpolation."),
    ] = "guidance"


class ContactSegment(msgspec.Struct, Generic[N], kw_only=True):
    """One segment."""

    kind: Annotated[str, Text("Kind of segment, in the order asked.")]
    volume: Annotated[N | None, Measure("volume", "Water it holds.")]
    baffling_factor: Annotated[N | None, Measure("plain", "Baffling factor.")]
    residence_time: Annotated[N | None, Measure("time", "Volume over flow.")]
    contact_time: Annotated[N, Measure("time", "Contact time (T10).")]
    residual: Annotated[N, Measure("concentration", "Residual at its end.")]
    ct_achieved: Annotated[N, Measure("ct", "Residual times contact time.")]
    ct_required: Annotated[N, Measure("ct", "CT that the target needs at its conditions.")]
    inactivation_ratio: Annotated[N, Measure("plain", "The one over the other.")]
    cell: Annotated[str, Text("Cell of the table it rests on, or the method.")]
    status: Annotated[str, Text("found or memory: whether the digits of every cell used were read or are recalled.")]


class ContactAnswer(Answer, Generic[N]):
    """CT required and achieved, and the value that was left to solve."""

    safer: ClassVar[Mapping[str, Safe]] = (
        higher("inactivation_ratio log_inactivation_achieved log_inactivation_credited ct_achieved flow_to_meet")
        | lower("residual_to_meet")
        | {"sufficient": True}
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "what was solved for or given": "residual flow contact_time",
        "compares two methods": "deviation_from_table",
        "a mean over the segments, weighted by CT; the ratio decides": (
            "ct_required ct_required_table contact_time_to_meet"
        ),
    }

    sufficient: Annotated[bool, Flag("Whether the inactivation ratio reaches one.")]
    inactivation_ratio: Annotated[N, Measure("plain", "CT achieved over CT required, added up over the segments.")]
    log_inactivation_achieved: Annotated[
        N, Measure("plain", "3 log (virus: 4 log) times the ratio to the CT for that many, as the rule has it.")
    ]
    log_inactivation_credited: Annotated[N, Measure("plain", "The same, no more than the rule credits at most.")]
    ct_required: Annotated[N, Measure("ct", "CT that the target needs; with differing segments, their weighted mean.")]
    ct_achieved: Annotated[N, Measure("ct", "Residual times contact time, added up.")]
    solved: Annotated[str, Text("What was left to solve: residual, flow, volume, contact_time, or nothing.")]
    residual: Annotated[N | None, Measure("concentration", "Residual, given or solved.")]
    flow: Annotated[N | None, Measure("flow", "Flow, given or solved.")]
    contact_time: Annotated[N, Measure("time", "Contact time (T10) of all segments.")]
    residual_to_meet: Annotated[
        N | None, Measure("concentration", "Residual that alone would do; absent where none in the table does.")
    ]
    flow_to_meet: Annotated[N | None, Measure("flow", "Highest flow that would do; absent where no flow counts.")]
    contact_time_to_meet: Annotated[N, Measure("time", "Contact time that alone would do.")]
    ct_required_table: Annotated[
        N | None, Measure("ct", "What the guidance's cell has, where another way was asked for.")
    ]
    deviation_from_table: Annotated[
        N | None, Measure("share", "Regression or interpolation less the cell, over the cell; below zero is unsafe.")
    ]
    segments: Annotated[list[ContactSegment[N]], Items("Each segment, in the order asked.")]


class DeviationRequest(Request, Generic[Q]):
    """A published regression."""

    undirected: ClassVar[Mapping[str, str]] = {
        "chooses a part of the table": "log_inactivation margin",
    }

    regression: Annotated[RegressionChoice, Choice("Regression for Giardia by free chlorine.", example="smith_1995")]
    log_inactivation: Annotated[
        Q,
        Measure(
            "plain",
            "Log inactivation: cells and regressions are in proportion to it.",
            at_least="0.5",
            at_most="3",
            example="3",
        ),
    ] = default("3")
    margin: Annotated[
        Q,
        Measure(
            "ct",
            "Shortfall up to which a cell does not count as missed; cells are whole numbers.",
            at_least="0 mg.min/L",
            at_most="100 mg.min/L",
            example="0.5 mg.min/L",
        ),
    ] = default("0.5 mg.min/L")


class TemperatureDeviation(msgspec.Struct, Generic[N], kw_only=True):
    """The regression against the cells of one temperature."""

    water_temperature: Annotated[N, Measure("temperature", "Temperature of the cells.")]
    mean: Annotated[N, Measure("share", "Mean of regression less cell, over cell.")]
    lowest: Annotated[N, Measure("share", "Furthest below.")]
    highest: Annotated[N, Measure("share", "Furthest above.")]
    cells: Annotated[N, Measure("plain", "Number of cells.")]
    cells_below: Annotated[N, Measure("plain", "Number of cells that the regression misses by more than the margin.")]


class DeviationAnswer(Answer, Generic[N]):
    """How a regression stands to the table it was made from."""

    undirected: ClassVar[Mapping[str, str]] = {
        "compares a regression with a table": "mean lowest highest cells cells_below below",
    }

    mean: Annotated[N, Measure("share", "Mean of regression less cell, over cell, over the whole table.")]
    lowest: Annotated[N, Measure("share", "Furthest below a cell.")]
    highest: Annotated[N, Measure("share", "Furthest above a cell.")]
    cells: Annotated[N, Measure("plain", "Number of cells.")]
    cells_below: Annotated[N, Measure("plain", "Number of cells that the regression misses by more than the margin.")]
    below: Annotated[N, Measure("share", "The same as a share of all cells.")]
    furthest_cell: Annotated[str, Text("Cell that it misses by the largest share.")]
    temperatures: Annotated[list[TemperatureDeviation[N]], Items("Temperature by temperature.")]
