"""The whole job: each section runs as its own calculation, then one verdict with its reasons."""

from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from dosewright.engine.base import Basis
from dosewright.engine.compose import Composer, Part, in_si
from dosewright.engine.fields.measure import known
from dosewright.engine.fields.section import RawSection
from dosewright.engine.notes import Notes
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Command, Views, calculation
from dosewright.quantities import KINDS, Unreadable, read
from dosewright.topics.plan.contract import PlanAnswer, PlanChoice, PlanRequest
from dosewright.topics.plan.gaps import all_assessed, gaps, is_upper_bound
from dosewright.topics.plan.page import plan_page
from dosewright.topics.plan.reasons import reasons_of, verdict_of
from dosewright.topics.plan.section_answers import SectionAnswers, deciding_flow
from dosewright.topics.plan.sensitivity import thresholds_of
from dosewright.topics.plan.wording import in_short
from dosewright.topics.site.contracts.upkeep import UpkeepRequest

__all__ = ["plan"]

_WHOLE = Basis(
    method="each section is a calculation of this service, run with the shared values of the plan; the most severe "
    "reason sets the verdict",
    source="the sources of each section, in its answer",
    validity="the values entered; missing information is listed and not assumed",
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
# missing is named in the plan; nothing is assumed silently. Remove the # to use an optional input.
# Quantities carry their unit. An editor checks this file by the schema that `dosewright plan --schema` writes.
"""
_COMMAND = Command(
    "plan",
    summary="plan a whole installation from a TOML or JSON file",
    noun="a plan of a whole installation",
    head=_HEAD,
    examples=files("dosewright.topics.plan") / "scenarios",
    shown=in_short,
    # Two fixtures whose peak flow is below that of the example; the example of the calculation is a larger house.
    filled={"demand": {"fixtures": [{"fixture": "lavatory", "in_use": "1"}, {"fixture": "shower", "in_use": "1"}]}},
)


@calculation(
    "site/plan",
    views=Views(page=plan_page, web_page=True, command=_COMMAND),
    request=PlanRequest,
    answer=PlanAnswer,
    summary="The whole installation: verdict, reasons, and the answer of each section",
    example=_EXAMPLE,
    batch=False,
)
def plan(ask: PlanRequest[float], notes: Notes) -> PlanAnswer[float]:
    """Can UV be fitted here, what must come first, which unit, where to mount it, and how to keep it safe.

    Each section is run as its own calculation and gives the same numbers. Values that several sections need are
    entered once: UVT, hardness, iron and manganese in the water test, the peak flow, the water temperature, the
    chlorination. The most severe reason sets the verdict. Missing information is listed.
    """
    composer = Composer(ask.units)
    found = _ask_all(ask, composer)
    composer.refuse_faults()
    reasons = reasons_of(found)
    notes.add_basis(_WHOLE)
    composer.add_to_notes(notes)
    if not composer.ran:
        notes.caution("local_rules")
    answer = PlanAnswer[float](
        verdict=verdict_of(reasons, judged=all_assessed(found)),
        reasons=reasons,
        missing=gaps(ask, found, composer.lacking),
        peak_flow=found.peak_flow,
        choices=_choices(found),
        sensitivity=thresholds_of(found, reasons) if ask.sensitivity else [],
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
    composer.write()
    return answer


def _ask_all(ask: PlanRequest[float], composer: Composer) -> SectionAnswers:
    found = SectionAnswers(ask, composer)
    sections: Any = ask  # the fields hold the sections as they were given
    for part in _PARTS:
        setattr(found, part.name, composer.ask_part(part, found, getattr(sections, part.name)))
        if part.name == "equipment" and (not found.equipment or None in found.equipment):
            # Units are compared by number: if one cannot be calculated, there is no choice.
            found.equipment = []
    found.no_flow = composer.take_fault("plumbing", "below_vapour_pressure")
    return found


def _tested(found: SectionAnswers, *names: str) -> dict[str, Any]:
    return {name: found.composer.value("water_test", name) for name in names}


def _for_chlorination(found: SectionAnswers) -> dict[str, Any]:
    """Return what the water test says of the water to chlorinate; a measured demand includes the metals already."""
    shared = {"water_temperature": found.ask.water_temperature, **_tested(found, "ph")}
    section: Any = found.ask.chlorination
    if section is not None and not _measured_demand(section.raw, found.ask.units):
        shared |= _tested(found, "iron", "manganese")
        shared["sulfide"] = found.composer.value("water_test", "hydrogen_sulfide")
    return shared


def _measured_demand(section: Mapping[str, Any], profile: Any) -> bool:
    """Return whether a chlorination has a demand above zero, which is the default."""
    demand = section.get("chlorine_demand")
    if demand is None:
        return False
    try:
        return read(demand, KINDS["concentration"], section.get("units") or profile)[0] != 0.0
    except Unreadable:  # the section itself names the fault
        return True


def _for_start(found: SectionAnswers) -> dict[str, Any]:
    """Return the plan's own chlorination for the start, as it was answered already."""
    given: Any = found.ask.chlorination
    if given is None:
        return {}
    shared = _for_chlorination(found)
    omitted = {name: one for name, one in shared.items() if one is not None and given.raw.get(name) is None}
    ran = found.composer.ran.get("chlorination")
    return {"chlorination": RawSection({**given.raw, **in_si(omitted)}, query=given.query, ran=ran)}


def _for_upkeep(found: SectionAnswers) -> dict[str, Any]:
    shared = _tested(found, "hardness", "iron", "manganese")
    section: Any = found.ask.upkeep
    if section is not None and found.chosen is not None:
        unit = found.equipment[found.chosen]
        shared["derated_flow"] = known(deciding_flow(unit), found.flow_unit(found.chosen))
        if is_upper_bound(found) and section.raw.get("derated_flow") is None:
            shared["hydraulics_unknown"] = True
        shared["lamp_ageing_factor"] = unit.inputs["lamp_ageing_factor"]
        usual = next(field.default for field in reader_for(UpkeepRequest).fields if field.name == "lamp_end_factor")
        if unit.inputs["lamp_ageing_factor"] < usual:  # the unit is sized for an older lamp than the usual one
            shared["lamp_end_factor"] = unit.inputs["lamp_ageing_factor"]
        shared["peak_flow"] = found.peak_to_share
    return shared


# In the order in which one takes from another; a section's own values come before what is shared.
_PARTS: tuple[Part[SectionAnswers], ...] = (
    Part("demand", "demand/peak"),
    Part(
        "water_test",
        "site/water-check",
        lambda found: {"water_temperature": found.ask.water_temperature, "peak_flow": found.peak_to_share},
    ),
    Part("equipment", "uv/derated-flow", lambda found: {**_tested(found, "uvt"), "peak_flow": found.peak_to_share}),
    Part(
        "plumbing",
        "pipe/pressure-drop",
        lambda found: {"flow": found.peak_to_share, "water_temperature": found.ask.water_temperature},
    ),
    Part(
        "chlorination",
        "chlorine/shock",
        _for_chlorination,
    ),
    Part("condensation", "site/condensation", lambda found: {"water_temperature": found.ask.water_temperature}),
    Part("clearance", "site/clearance"),
    Part("commissioning", "site/commissioning", _for_start),
    Part("upkeep", "site/upkeep", _for_upkeep),
)


def _choices(found: SectionAnswers) -> list[PlanChoice[float]]:
    return [
        PlanChoice(
            number=number,
            derated_flow=answer.derated_flow,
            flow_lower_bound=answer.flow_lower_bound,
            flow_margin=answer.flow_margin,
            covers_peak_flow=answer.covers_peak_flow,
            chosen=number == found.chosen,
        )
        for number, answer in enumerate(found.equipment)
    ]
