"""The whole job: every section asked as its own calculation, then one verdict with its reasons."""

from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from dosewright.engine.base import Basis
from dosewright.engine.compose import Composer
from dosewright.engine.notes import Notes
from dosewright.engine.reading.reader import note_of
from dosewright.engine.registry import Command, Views, calculation
from dosewright.quantities import Unreadable
from dosewright.topics.plan.contract import PlanAnswer, PlanChoice, PlanRequest
from dosewright.topics.plan.gaps import gaps, judged
from dosewright.topics.plan.page import plan_page
from dosewright.topics.plan.reasons import reasons_of, verdict_of
from dosewright.topics.plan.section_answers import Found, secured_flow, si
from dosewright.topics.plan.sensitivity import turns_of
from dosewright.topics.plan.wording import in_short
from dosewright.topics.site.contracts.water_check import WaterCheckRequest
from dosewright.topics.site.laboratory import as_quantity

__all__ = ["plan"]

_WHOLE = Basis(
    method="each section is its own calculation, asked with what the plan shares; the verdict is the heaviest reason",
    source="the sections' own sources, each in its answer",
    validity="what was given; what is missing is named and not assumed",
)
_EXAMPLE: Mapping[str, Any] = {
    "peak_flow": "8 gal/min",
    "water_temperature": "8 degC",
    "water_test": {
        "uvt": "87 %",
        "iron": "0.1 mg/L",
        "manganese": "0.02 mg/L",
        "hardness": "5 gpg",
        "turbidity": "0.4",
        "ph": "7.3",
        "total_coliform": "6 1/100mL",
        "e_coli": "0 1/100mL",
        "nitrate_nitrogen": "1.1 mg/L",
        "lead": "0.002 mg/L",
        "copper": "0.2 mg/L",
        "arsenic": "0.002 mg/L",
        "fluoride": "0.4 mg/L",
        "uranium": "0.003 mg/L",
    },
    "equipment": [
        {
            "lamp_ageing_factor": "80 %",
            "sleeve_fouling_factor": "88 %",
            "rated_points": [
                {
                    "rated_flow": "52 L/min",
                    "uvt": "95 %",
                    "dose": "40 mJ/cm2",
                    "lamp_ageing_factor": "80 %",
                    "sleeve_fouling_factor": "100 %",
                }
            ],
            "chamber_bore": "90 mm",
            "sleeve_outer_diameter": "26 mm",
            "arc_length": "790 mm",
            "chamber_length": "840 mm",
        }
    ],
    "plumbing": {
        "inlet_pressure": "45 psi",
        "required_outlet_pressure": "20 psi",
        "segments": [
            {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4", "length": "34 ft"},
            {"kind": "fitting", "fitting": "elbow_90", "count": "7"},
            {"kind": "device", "rated_flow": "12 gal/min", "rated_pressure_drop": "2 psi"},
        ],
    },
    "chlorination": {
        "vessels": [{"kind": "drilled_casing", "diameter": "6 in", "water_column": "127 ft"}],
        "product": {"kind": "liquid", "sodium_hypochlorite": "6 %"},
        "free_chlorine": "100 mg/L",
    },
}
_HEAD = """\
# The whole installation, for: dosewright plan FILE --pdf plan.pdf
#
# The values here are invented: put those of the site in their place, and delete the parts that are not known. What is
# missing is named in the plan; nothing is assumed silently. A line behind # is an input that may be given.
# Quantities carry their unit. An editor checks this file by the schema that `dosewright plan --schema` writes.
"""
_COMMAND = Command(
    "plan",
    summary="plan a whole installation from a TOML or JSON file",
    noun="a plan of a whole installation",
    head=_HEAD,
    examples=files("dosewright.topics.plan") / "scenarios",
    shown=in_short,
)


@calculation(
    "site/plan",
    views=Views(page=plan_page, web_page=True, command=_COMMAND),
    request=PlanRequest,
    answer=PlanAnswer,
    summary="The whole installation: verdict, reasons, and every part's own answer",
    example=_EXAMPLE,
    batch=False,
)
def plan(ask: PlanRequest[float], notes: Notes) -> PlanAnswer[float]:
    """May ultraviolet light go in, what comes first, what will it carry, where does it hang, and how does it stay safe.

    Each section is asked as the calculation of its own, so its numbers are the ones that calculation gives. What
    several sections need is given once: the UVT and the deposits of the water test, the peak flow, the temperature of
    the water, the chlorination. The verdict is the heaviest reason; what was not given is named.
    """
    sections: Any = ask  # the fields hold the sections as they were given
    composer = Composer(ask.units)
    found = _ask_all(ask, sections, composer)
    composer.refuse_faults()
    reasons = reasons_of(found)
    notes.rest_on(_WHOLE)
    composer.tell(notes)
    if not composer.answers:
        notes.caution("local_rules")
    return PlanAnswer(
        verdict=verdict_of(reasons, judged=judged(found)),
        reasons=reasons,
        missing=gaps(ask, found, composer.lacking),
        peak_flow=found.peak_flow,
        choices=_choices(found),
        turns=turns_of(found, reasons) if ask.sensitivity else [],
        water_test=found.water_test,
        demand=found.demand,
        equipment=found.equipment,
        plumbing=found.plumbing,
        chlorination=found.chlorination,
        condensation=found.condensation,
        clearance=found.clearance,
        commissioning=found.commissioning,
        upkeep=found.upkeep,
    )


def _ask_all(ask: PlanRequest[float], sections: Any, composer: Composer) -> Found:
    found = Found()
    temperature = None if ask.water_temperature is None else f"{ask.water_temperature!r} K"
    test: Mapping[str, Any] = sections.water_test.raw if sections.water_test is not None else {}
    found.demand = composer.ask("demand", "demand/peak", sections.demand, {})
    found.peak_flow, peak = _peak_flow(ask, found.demand)
    from_test = {"water_temperature": temperature, "peak_flow": peak}
    found.water_test = composer.ask("water_test", "site/water-check", sections.water_test, from_test)
    test = _as_quantities(test)
    shared: dict[str, Any] = {"uvt": test.get("uvt"), "peak_flow": peak}
    units = [
        composer.ask(f"equipment/{number}", "uv/derated-flow", unit, shared)
        for number, unit in enumerate(sections.equipment or ())
    ]
    found.sharing_uvt = frozenset(
        number for number, unit in enumerate(sections.equipment or ()) if unit.raw.get("uvt") is None
    )
    # Units stand side by side by their numbers: with one that cannot be judged there is no choice among them.
    found.equipment = [] if None in units else units
    shared = {"flow": peak, "water_temperature": temperature}
    found.plumbing = composer.ask("plumbing", "pipe/pressure-drop", sections.plumbing, shared)
    found.no_flow = composer.take_fault("plumbing", "below_vapour_pressure")
    shared = {"water_temperature": temperature, "ph": test.get("ph")}
    found.chlorination = composer.ask("chlorination", "chlorine/batch", sections.chlorination, shared)
    shared = {"water_temperature": temperature}
    found.condensation = composer.ask("condensation", "site/condensation", sections.condensation, shared)
    found.clearance = composer.ask("clearance", "site/clearance", sections.clearance, {})
    raw = sections.chlorination.raw if sections.chlorination is not None else None
    shared = {
        "chlorination": raw and {**raw, **_left_out(raw, {"water_temperature": temperature, "ph": test.get("ph")})}
    }
    found.commissioning = composer.ask("commissioning", "site/commissioning", sections.commissioning, shared)
    found.upkeep = composer.ask("upkeep", "site/upkeep", sections.upkeep, _for_upkeep(test, found, peak))
    return found


def _as_quantities(test: Mapping[str, Any]) -> dict[str, Any]:
    """Return the results of a test as plain quantities, as other sections read them; none where it is at fault."""
    plain = dict(test)
    for name in ("uvt", "hardness", "iron", "manganese"):
        value, measure = test.get(name), note_of(WaterCheckRequest, name)
        if isinstance(value, str):
            try:
                plain[name] = as_quantity(value, measure)
            except Unreadable:  # the water test itself names the fault
                plain[name] = None
    return plain


def _left_out(raw: Mapping[str, Any], shared: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in shared.items() if value is not None and raw.get(name) is None}


def _peak_flow(ask: PlanRequest[float], demand: Any) -> tuple[float | None, str | None]:
    """Return the peak flow in SI, and as a text that reads back to the same number."""
    if ask.peak_flow is not None:
        return ask.peak_flow, f"{ask.peak_flow!r} m3/s"
    if demand is None:
        return None, None
    unit = demand.units["peak_flow"]
    return si("flow", demand.peak_flow, unit), f"{demand.peak_flow!r} {unit}"


def _for_upkeep(test: Mapping[str, Any], found: Found, peak: str | None) -> dict[str, Any]:
    shared: dict[str, Any] = {name: test.get(name) for name in ("hardness", "iron", "manganese")}
    if found.chosen is not None:
        unit = found.equipment[found.chosen]
        shared["derated_flow"] = "{!r} {}".format(*secured_flow(unit))
        shared["lamp_ageing_factor"] = f"{unit.inputs['lamp_ageing_factor']!r} 1"
        shared["peak_flow"] = peak
    return shared


def _choices(found: Found) -> list[PlanChoice[float]]:
    return [
        PlanChoice(
            number=number,
            derated_flow=si("flow", answer.derated_flow, answer.units["derated_flow"]),
            flow_lower_bound=None
            if answer.flow_lower_bound is None
            else si("flow", answer.flow_lower_bound, answer.units["flow_lower_bound"]),
            head_room=None if answer.head_room is None else si("flow", answer.head_room, answer.units["head_room"]),
            covers_peak_flow=answer.covers_peak_flow,
            chosen=number == found.chosen,
        )
        for number, answer in enumerate(found.equipment)
    ]
