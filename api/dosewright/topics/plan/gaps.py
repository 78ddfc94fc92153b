"""What a plan was not given, and what cannot be judged without it."""

from collections.abc import Iterator, Mapping, Sequence

from dosewright.engine.sentences import listed
from dosewright.topics.plan.contract import PlanGap, PlanRequest
from dosewright.topics.plan.section_answers import Found

__all__ = ["gaps", "is_upper_bound", "judged"]

_JUDGES = {
    "water_test": "whether the water is fit for ultraviolet light, and what must be treated first",
    "equipment": "whether a unit carries the peak flow at this water",
    "plumbing": "whether pipe and filters pass the peak flow, and what pressure is left",
    "chlorination": "how much hypochlorite disinfects what lies downstream, and how long it stands",
    "condensation": "whether pipes and chamber sweat and drip",
    "clearance": "whether lamp and sleeve can be drawn out where it hangs",
    "commissioning": "the steps of the start, with their times",
    "upkeep": "what falls due when, and what a year costs",
}
# Where a plan has what its sections take from elsewhere.
_GIVEN_BY = {
    "uvt": "the UVT in the water test",
    "flow": "peak_flow, or the fixtures in demand",
    "water_temperature": "water_temperature",
}
_UNNAMED = "hydraulics_not_named"


def gaps(ask: PlanRequest[float], found: Found, lacking: Mapping[str, Sequence[str]]) -> list[PlanGap]:
    """Return what was not given, and what cannot be judged without it.

    `lacking` names what a section that was given takes from elsewhere and did not find there.
    """
    return [PlanGap(section=section, cannot_judge=meaning) for section, meaning in _gaps(ask, found, lacking)]


def _gaps(ask: PlanRequest[float], found: Found, lacking: Mapping[str, Sequence[str]]) -> Iterator[tuple[str, str]]:
    if found.peak_flow is None:
        yield "demand", "whether any unit or pipe is large enough: give peak_flow, or the fixtures"
    wanted: dict[str, list[str]] = {}
    for section, names in lacking.items():
        known = wanted.setdefault(section.partition("/")[0], [])
        known += [name for name in names if name not in known]
    for name, meaning in _JUDGES.items():
        if getattr(ask, name) is None:
            yield name, meaning
        elif name in wanted:
            yield name, f"{meaning}: give {listed(_GIVEN_BY.get(one, one) for one in wanted[name])}"
    if is_upper_bound(found):
        what = "whether the chamber gives the target dose, since no hydraulics are named and its mean dose is the most"
        yield f"equipment.{found.chosen}.hydraulics", f"{what} it can give: name them, or give rated points"


def judged(found: Found) -> bool:
    """Tell whether everything that a go hangs on was judged: water, unit, peak flow, and a dose it can be held to."""
    if found.water_test is None or not found.equipment or found.peak_flow is None:
        return False
    return found.water_test.verdict != "incomplete" and not is_upper_bound(found)


def is_upper_bound(found: Found) -> bool:
    """Tell whether the chosen unit's hydraulics are not named, so that its derated flow is the most it can carry."""
    if found.chosen is None:
        return False
    return any(warning.code == _UNNAMED for warning in found.equipment[found.chosen].warnings)
