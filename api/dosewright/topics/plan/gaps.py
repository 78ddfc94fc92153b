"""Missing information of a plan, and what is not assessed without it."""

from collections.abc import Iterator, Mapping, Sequence

from dosewright.engine.sentences import listed
from dosewright.topics.plan.contract import PlanGap, PlanRequest
from dosewright.topics.plan.section_answers import SectionAnswers

__all__ = ["all_assessed", "gaps", "is_upper_bound"]

_JUDGES = {
    "water_test": "whether UV suits the water, and what must be treated first",
    "equipment": "whether a unit covers the peak flow with this water",
    "plumbing": "whether pipe and filters can carry the peak flow, and how much pressure remains",
    "chlorination": "how much hypochlorite disinfects everything downstream, and for how long",
    "condensation": "whether pipes and chamber sweat and drip",
    "clearance": "whether there is room to draw lamp and sleeve",
    "commissioning": "the start-up steps and their times",
    "upkeep": "when upkeep is due, and what a year costs",
}
# Where a plan takes the shared values of its sections from.
_GIVEN_BY = {
    "uvt": "the UVT in the water test",
    "flow": "peak_flow, or the fixtures in demand",
    "water_temperature": "water_temperature",
}
_UNNAMED = "hydraulics_not_named"


def gaps(ask: PlanRequest[float], found: SectionAnswers, lacking: Mapping[str, Sequence[str]]) -> list[PlanGap]:
    """Return the missing information, and what is not assessed without it.

    `lacking` names the shared values that a section needs and the plan does not have.
    """
    return [PlanGap(section=section, not_assessed=meaning) for section, meaning in _gaps(ask, found, lacking)]


def _gaps(
    ask: PlanRequest[float], found: SectionAnswers, lacking: Mapping[str, Sequence[str]]
) -> Iterator[tuple[str, str]]:
    if found.peak_flow is None:
        yield "demand", "whether any unit or pipe is large enough: enter peak_flow, or the fixtures in demand"
    required: dict[str, list[str]] = {}
    for section, names in lacking.items():
        known = required.setdefault(section.partition("/")[0], [])
        known += [name for name in names if name not in known]
    for name, meaning in _JUDGES.items():
        if getattr(ask, name) is None:
            yield name, meaning
        elif name in required:
            yield name, f"{meaning}: enter {listed(_GIVEN_BY.get(one, one) for one in required[name])}"
    if is_upper_bound(found):
        what = "whether the chamber gives the target dose: without hydraulics, its mean dose is only an upper bound"
        yield f"equipment.{found.chosen}.hydraulics", f"{what}; enter hydraulics, or rated_points"


def all_assessed(found: SectionAnswers) -> bool:
    """Return whether everything needed for a go was assessed: water, unit, peak flow, and more than an upper bound."""
    if found.water_test is None or not found.equipment or found.peak_flow is None:
        return False
    return found.water_test.verdict != "incomplete" and not is_upper_bound(found)


def is_upper_bound(found: SectionAnswers) -> bool:
    """Tell whether the chosen unit's hydraulics are not named, so that its derated flow is the most it can carry."""
    if found.chosen is None:
        return False
    return any(warning.code == _UNNAMED for warning in found.equipment[found.chosen].warnings)
