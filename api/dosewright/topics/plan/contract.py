"""Contracts of the site plan: the whole job in one call."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher
from dosewright.engine.fields import Flag, Items, Measure, Section, Text
from dosewright.topics.chlorine.contracts.shock import ShockAnswer, ShockRequest
from dosewright.topics.pipe.contracts.demand import PeakAnswer, PeakRequest
from dosewright.topics.pipe.contracts.pressure_drop import PressureDropRequest
from dosewright.topics.pipe.contracts.run_answers import PressureDropAnswer
from dosewright.topics.site.contracts.clearance import ClearanceAnswer, ClearanceRequest
from dosewright.topics.site.contracts.commissioning import CommissioningAnswer, CommissioningRequest
from dosewright.topics.site.contracts.condensation import CondensationAnswer, CondensationRequest
from dosewright.topics.site.contracts.upkeep import UpkeepAnswer, UpkeepRequest
from dosewright.topics.site.contracts.water_check import WaterCheckAnswer, WaterCheckRequest
from dosewright.topics.uv.contracts.derated_flow import DeratedFlowAnswer, DeratedFlowRequest

__all__ = ["PlanAnswer", "PlanChoice", "PlanGap", "PlanReason", "PlanRequest", "PlanSensitivity", "Severity", "Verdict"]


Severity: TypeAlias = Literal["blocking", "fix_first", "check"]
Verdict: TypeAlias = Literal["suitable", "fix_first", "not_suitable", "incomplete"]


class PlanRequest(Request, Generic[Q], kw_only=True):
    """The whole job. Each section is the request of one calculation; values that several sections need are shared."""

    worse: ClassVar[Mapping[str, Direction]] = higher("peak_flow")
    undirected: ClassVar[Mapping[str, str]] = {
        "cold water is more viscous and makes pipes sweat, warm water forms scale": "water_temperature",
    }

    peak_flow: Annotated[
        Q | None,
        Measure(
            "flow",
            "Peak flow of the house. Without it, the result of the demand section is used.",
            above="0 L/min",
            at_most="1 m3/s",
            example="8 gal/min",
        ),
    ] = None
    water_temperature: Annotated[
        Q | None,
        Measure(
            "temperature",
            "Temperature of the water, for every section that omits it.",
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
            "UV units to choose from. If omitted, UVT is taken from the water test and peak_flow from the plan.",
            "uv/derated-flow",
            shared=("uvt", "peak_flow"),
            at_most=6,
        ),
    ] = None
    plumbing: Annotated[
        PressureDropRequest[Q] | None,
        Section("Pipe run with fittings and devices.", "pipe/pressure-drop", shared=("flow", "water_temperature")),
    ] = None
    chlorination: Annotated[
        ShockRequest[Q] | None,
        Section(
            "Shock chlorination. If chlorine_demand is omitted, iron, manganese and sulfide are from the water test.",
            "chlorine/shock",
            shared=("water_temperature", "ph", "iron", "manganese", "sulfide"),
        ),
    ] = None
    condensation: Annotated[
        CondensationRequest[Q] | None,
        Section("Air of the room and surfaces that can sweat.", "site/condensation", shared=("water_temperature",)),
    ] = None
    clearance: Annotated[ClearanceRequest[Q] | None, Section("Space on the wall.", "site/clearance")] = None
    commissioning: Annotated[
        CommissioningRequest[Q] | None,
        Section("Start-up of the installation.", "site/commissioning", shared=("chlorination",)),
    ] = None
    upkeep: Annotated[
        UpkeepRequest[Q] | None,
        Section(
            "Upkeep. If omitted, hardness, iron and manganese are from the water test, the flow is the chosen unit's, "
            "its lower bound where it has one.",
            "site/upkeep",
            shared=(
                *("hardness", "iron", "manganese", "derated_flow", "lamp_ageing_factor", "peak_flow"),
                *("hydraulics_unknown", "lamp_end_factor"),
            ),
        ),
    ] = None
    sensitivity: Annotated[
        bool, Flag("Whether to find the thresholds that change the verdict or the choice of unit.")
    ] = False


class PlanReason(msgspec.Struct, kw_only=True):
    """One reason for the verdict."""

    severity: Annotated[
        Severity,
        Text("stop: do not install as planned; fix_first: fix before installing; look: check."),
    ]
    section: Annotated[str, Text("Section of the reason.")]
    code: Annotated[str, Text("Stable name of the reason.")]
    message: Annotated[str, Text("What is wrong, and what to do.")]
    exceeds_limit_by: Annotated[
        str | None,
        Text("How far the limit is exceeded or missed, with its unit; absent without a limit or a number."),
    ]


class PlanGap(msgspec.Struct, kw_only=True):
    """Missing information."""

    section: Annotated[str, Text("Section that is missing, or that lacks a value.")]
    not_assessed: Annotated[str, Text("What is not assessed without it.")]


class PlanChoice(msgspec.Struct, Generic[N], kw_only=True):
    """One UV unit to choose from."""

    number: Annotated[int, Text("Number in the list of equipment, from 0.")]
    derated_flow: Annotated[N, Measure("flow", "Derated flow with this water, lamp age and sleeve.")]
    flow_lower_bound: Annotated[
        N | None, Measure("flow", "Lower bound of the derated flow. With rated points it decides the choice.")
    ]
    flow_margin: Annotated[N | None, Measure("flow", "Deciding flow minus peak flow.")]
    covers_peak_flow: Annotated[bool | None, Text("Whether the unit covers the peak flow.")]
    chosen: Annotated[
        bool, Flag("Whether this unit is chosen: the smallest that covers the peak flow, else the largest that could.")
    ]


class PlanSensitivity(msgspec.Struct, kw_only=True):
    """How far one input can change before the reasons for the verdict or the chosen unit change."""

    input: Annotated[str, Text("Section and field.")]
    now: Annotated[str, Text("Present value, with its unit.")]
    threshold: Annotated[str | None, Text("Value at which the verdict or the choice changes; absent if no value does.")]
    reason: Annotated[str, Text("Code of the reason that appears or disappears there, or unit_choice_changes.")]
    verdict_beyond: Annotated[
        str | None,
        Text("Verdict beyond that value, all other reasons unchanged; absent without a threshold."),
    ]


class PlanAnswer(Answer, Generic[N]):
    """Verdict and reasons first, then the answer of each section."""

    safer: ClassVar[Mapping[str, Safe]] = {"verdict": ("suitable", "incomplete", "fix_first", "not_suitable")}
    undirected: ClassVar[Mapping[str, str]] = {
        "entered, or calculated from the fixtures": "peak_flow",
    }

    verdict: Annotated[
        Verdict,
        Text("go, fix_first (fix the reasons first), not_suitable, or incomplete (not enough information)."),
    ]
    reasons: Annotated[list[PlanReason], Items("Reasons, most severe first.")]
    missing: Annotated[list[PlanGap], Items("Missing information, and what is not assessed without it.")]
    peak_flow: Annotated[N | None, Measure("flow", "Peak flow of the plan.")]
    choices: Annotated[list[PlanChoice[N]], Items("Comparison of the units.")]
    sensitivity: Annotated[
        list[PlanSensitivity], Items("What would change the verdict or the choice of unit, if sensitivity is true.")
    ]
    water_test: Annotated[WaterCheckAnswer[N] | None, Section("Result of the water test.", "site/water-check")]
    demand: Annotated[PeakAnswer[N] | None, Section("Result of the demand.", "demand/peak")]
    equipment: Annotated[list[DeratedFlowAnswer[N]], Section("Results of the units.", "uv/derated-flow", at_most=6)]
    plumbing: Annotated[PressureDropAnswer[N] | None, Section("Result of the pipe run.", "pipe/pressure-drop")]
    chlorination: Annotated[ShockAnswer[N] | None, Section("Result of the chlorination.", "chlorine/shock")]
    condensation: Annotated[
        CondensationAnswer[N] | None, Section("Result of the condensation check.", "site/condensation")
    ]
    clearance: Annotated[ClearanceAnswer[N] | None, Section("Result of the clearance check.", "site/clearance")]
    commissioning: Annotated[CommissioningAnswer[N] | None, Section("Start-up checklist.", "site/commissioning")]
    upkeep: Annotated[UpkeepAnswer[N] | None, Section("Upkeep schedule.", "site/upkeep")]
