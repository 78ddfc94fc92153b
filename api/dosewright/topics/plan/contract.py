"""Contracts of the whole job in one call."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher
from dosewright.engine.fields import Flag, Items, Measure, Section, Text
from dosewright.topics.chlorine.contracts.batch import BatchDoseAnswer, BatchDoseRequest
from dosewright.topics.pipe.contracts.demand import PeakAnswer, PeakRequest
from dosewright.topics.pipe.contracts.pressure_drop import PressureDropRequest
from dosewright.topics.pipe.contracts.run_answers import PressureDropAnswer
from dosewright.topics.site.contracts.clearance import ClearanceAnswer, ClearanceRequest
from dosewright.topics.site.contracts.commissioning import CommissioningAnswer, CommissioningRequest
from dosewright.topics.site.contracts.condensation import CondensationAnswer, CondensationRequest
from dosewright.topics.site.contracts.upkeep import UpkeepAnswer, UpkeepRequest
from dosewright.topics.site.contracts.water_check import WaterCheckAnswer, WaterCheckRequest
from dosewright.topics.uv.contracts.unit import DeratedFlowAnswer, DeratedFlowRequest

__all__ = ["PlanAnswer", "PlanChoice", "PlanGap", "PlanReason", "PlanRequest", "PlanTurn"]


class PlanRequest(Request, Generic[Q], kw_only=True):
    """The whole job: each section is the request of its own calculation; what several need is given once."""

    worse: ClassVar[Mapping[str, Direction]] = higher("peak_flow")
    undirected: ClassVar[Mapping[str, str]] = {
        "colder water thickens and sweats, warmer water grows scale": "water_temperature",
    }

    peak_flow: Annotated[
        Q | None,
        Measure(
            "flow",
            "Peak flow of the house; without it the demand section's is taken.",
            above="0 L/min",
            at_most="1 m3/s",
            example="8 gal/min",
        ),
    ] = None
    water_temperature: Annotated[
        Q | None,
        Measure(
            "temperature",
            "Temperature of the water, for every section that leaves it out.",
            at_least="0 degC",
            at_most="100 degC",
            example="8 degC",
        ),
    ] = None
    water_test: Annotated[
        WaterCheckRequest[Q] | None,
        Section("Raw-water test.", "site/water-check", shared=("peak_flow", "water_temperature")),
    ] = None
    demand: Annotated[PeakRequest[Q] | None, Section("Fixtures and supply.", "demand/peak")] = None
    equipment: Annotated[
        list[DeratedFlowRequest[Q]] | None,
        Section(
            "Ultraviolet units to choose from; UVT is the water test's and peak_flow the plan's where left out.",
            "uv/derated-flow",
            shared=("uvt", "peak_flow"),
            at_most=6,
        ),
    ] = None
    plumbing: Annotated[
        PressureDropRequest[Q] | None,
        Section("Run of pipe, fittings and devices.", "pipe/pressure-drop", shared=("flow", "water_temperature")),
    ] = None
    chlorination: Annotated[
        BatchDoseRequest[Q] | None,
        Section("Batch chlorination.", "chlorine/batch", shared=("water_temperature", "ph")),
    ] = None
    condensation: Annotated[
        CondensationRequest[Q] | None,
        Section("Climate of the room.", "site/condensation", shared=("water_temperature",)),
    ] = None
    clearance: Annotated[ClearanceRequest[Q] | None, Section("Room on the wall.", "site/clearance")] = None
    commissioning: Annotated[
        CommissioningRequest[Q] | None,
        Section("Start of the installation.", "site/commissioning", shared=("chlorination",)),
    ] = None
    upkeep: Annotated[
        UpkeepRequest[Q] | None,
        Section(
            "Upkeep; deposits are the water test's and the flow the chosen unit's where left out, its lower bound "
            "where it has one.",
            "site/upkeep",
            shared=(
                *("hardness", "iron", "manganese", "derated_flow", "lamp_ageing_factor", "peak_flow"),
                "hydraulics_unknown",
            ),
        ),
    ] = None
    sensitivity: Annotated[
        bool, Flag("Whether to look for what would turn the verdict or the choice: which input, moved how far.")
    ] = False


class PlanReason(msgspec.Struct, kw_only=True):
    """One reason of the verdict."""

    weight: Annotated[
        Literal["stop", "fix_first", "look"],
        Text("stop: do not install so; fix_first: mend before; look: worth a look."),
    ]
    section: Annotated[str, Text("Section it comes from.")]
    code: Annotated[str, Text("Stable name.")]
    message: Annotated[str, Text("What it is and what follows.")]
    beyond_by: Annotated[str | None, Text("By how much, with its unit, where there is a limit.")]


class PlanGap(msgspec.Struct, kw_only=True):
    """A part that was not given."""

    section: Annotated[str, Text("Section it is missing from, or that cannot be asked without it.")]
    cannot_judge: Annotated[str, Text("What cannot be judged without it.")]


class PlanChoice(msgspec.Struct, Generic[N], kw_only=True):
    """One unit to choose from."""

    number: Annotated[int, Text("Place in the list of equipment, from 0.")]
    derated_flow: Annotated[N, Measure("flow", "Derated flow at this water, lamp age and sleeve.")]
    flow_lower_bound: Annotated[
        N | None, Measure("flow", "What is sure of it: lower bound of the unit's answer; with rated points it decides.")
    ]
    head_room: Annotated[N | None, Measure("flow", "The flow that decides, less the peak flow.")]
    covers_peak_flow: Annotated[bool | None, Text("Whether it covers the peak flow.")]
    chosen: Annotated[bool, Flag("The smallest that covers the peak flow; else the largest that may, or of all.")]


class PlanTurn(msgspec.Struct, kw_only=True):
    """How far one input can move before a reason of the verdict comes or goes, or another unit is chosen."""

    input: Annotated[str, Text("Section and field.")]
    now: Annotated[str, Text("Its value, with its unit.")]
    turns_at: Annotated[str | None, Text("Value at which it turns; absent where no value of it does.")]
    reason: Annotated[str, Text("Code of the reason that comes or goes there, or other_unit_chosen.")]
    verdict_then: Annotated[
        str | None,
        Text("Verdict past that value, all other reasons staying as they are; absent where no value turns it."),
    ]


class PlanAnswer(Answer, Generic[N]):
    """Verdict and reasons first, then every section's own answer."""

    safer: ClassVar[Mapping[str, Safe]] = {"verdict": ("go", "incomplete", "treat_first", "do_not")}
    undirected: ClassVar[Mapping[str, str]] = {
        "given or from the fixtures": "peak_flow",
    }

    verdict: Annotated[
        Literal["go", "treat_first", "do_not", "incomplete"],
        Text("go, treat_first (mend what stands first among the reasons), do_not, or incomplete (too little given)."),
    ]
    reasons: Annotated[list[PlanReason], Items("Reasons, heaviest first.")]
    missing: Annotated[list[PlanGap], Items("What was not given, and what cannot be judged without it.")]
    peak_flow: Annotated[N | None, Measure("flow", "Peak flow the plan was held against.")]
    choices: Annotated[list[PlanChoice[N]], Items("Units side by side.")]
    turns: Annotated[list[PlanTurn], Items("What would turn the verdict or the choice of unit, if asked.")]
    water_test: Annotated[WaterCheckAnswer[N] | None, Section("Answer of the water test.", "site/water-check")]
    demand: Annotated[PeakAnswer[N] | None, Section("Answer of the demand.", "demand/peak")]
    equipment: Annotated[list[DeratedFlowAnswer[N]], Section("Answers of the units.", "uv/derated-flow", at_most=6)]
    plumbing: Annotated[PressureDropAnswer[N] | None, Section("Answer of the run.", "pipe/pressure-drop")]
    chlorination: Annotated[BatchDoseAnswer[N] | None, Section("Answer of the chlorination.", "chlorine/batch")]
    condensation: Annotated[CondensationAnswer[N] | None, Section("Answer of the climate.", "site/condensation")]
    clearance: Annotated[ClearanceAnswer[N] | None, Section("Answer of the room.", "site/clearance")]
    commissioning: Annotated[CommissioningAnswer[N] | None, Section("Answer of the start.", "site/commissioning")]
    upkeep: Annotated[UpkeepAnswer[N] | None, Section("Answer of the upkeep.", "site/upkeep")]
