"""Raw water compared with the limits of ultraviolet treatment, and the treatment it needs first."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from dosewright.core.hydraulics.vessels import cylinder_volume
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes, label
from dosewright.engine.registry import calculation
from dosewright.present.rounding import in_profile
from dosewright.quantities import KINDS, Numbers
from dosewright.tables.site import Treatment, WaterLimit, treatment_train, uv_cannot_remove, water_limits, water_source
from dosewright.topics.site.contracts.water_check import (
    ParameterResult,
    TrainStage,
    UntestedParameter,
    UvCannotRemove,
    WaterCheckAnswer,
    WaterCheckRequest,
)
from dosewright.topics.site.scale import scale_of, warn_scale
from dosewright.topics.site.water_disagreement import warn_disagreement
from dosewright.topics.site.water_origin import warn_origin
from dosewright.topics.site.water_warnings import (
    CLOSE,
    SPECIALIST,
    Ask,
    Result,
    caution_of_water,
    has_faecal,
    needs_cyst_filter,
    wants,
    warn_cysts,
    warn_results,
)

__all__ = ["water_check"]


_LIMITS = Basis(
    method="each result is compared with its limit; the worst result sets the verdict",
    source="published limits, named with each result",
    validity="one sample from one day; the UV unit's data sheet and the health authority's rules come first",
)
_TRAIN = Basis(
    method="treatment stages in order, each sized for the peak flow; backwash flow = printed rate x area of bed",
    source="order: common practice, no source; backwash: printed table by media at 10 degC, maker not named",
    validity="ordinary household treatment; test the treated water, UVT first, to confirm",
)
_KINDS = {
    "uvt": ("share", "%"),
    "hardness": ("hardness", "gpg"),
    "total_coliform": ("count", "1/100mL"),
    "e_coli": ("count", "1/100mL"),
    "turbidity": ("plain", ""),
    "ph": ("plain", ""),
}
_BEDS = {
    "oxidising_filter": "oxidising_filter_diameter",
    "softener": "softener_diameter",
    "carbon_filter": "carbon_filter_diameter",
}
_VERDICTS = ("suitable", "incomplete", "fix_first", "not_suitable")
_OK, _INCOMPLETE, _TREAT, _UNSUITABLE = range(4)


@calculation(
    "site/water-check",
    request=WaterCheckRequest,
    answer=WaterCheckAnswer,
    summary="Does raw water suit UV treatment, and which treatment must come first",
    example={
        "water_source": "drilled_well",
        "uvt": "82 %",
        "iron": "0.9 mg/L",
        "manganese": "0.03 mg/L",
        "hardness": "11 gpg",
        "turbidity": "0.8",
        "ph": "7.3",
        "total_dissolved_solids": "360 mg/L",
        "total_coliform": "14 1/100mL",
        "e_coli": "0 1/100mL",
        "nitrate_nitrogen": "3.2 mg/L",
        "calcium_hardness": "140 mg/L",
        "alkalinity": "190 mg/L",
        "water_temperature": "10 degC",
        "sleeve_temperature": "40 degC",
        "peak_flow": "9 gal/min",
        "supply_flow": "7 gal/min",
        "softener_diameter": "9 in",
        "oxidising_filter_diameter": "10 in",
    },
)
def water_check(ask: Ask, notes: Notes) -> WaterCheckAnswer[Numbers]:
    """Raw-water test against its limits: which results are outside and by how much, and which treatment corrects them.

    The answer lists missing tests and why they matter. Water from lakes, streams and roofs always needs treatment
    first. If the source of the water is unknown, the verdict is incomplete. Ultraviolet light disinfects; the answer
    lists what it does not remove. Whether scale forms on the sleeve is calculated from calcium, alkalinity, dissolved
    solids, pH and temperature. Without one of these there is no result.
    """
    notes.add_basis(_LIMITS, _TRAIN)
    results = {name: _result(name, limit, value, _beside(name, ask), notes) for name, limit, value in _tested(ask)}
    missing = {name: limit for name, limit in water_limits().items() if name not in results}
    scale = scale_of(ask)
    required = _stages_required(results, scale.forms_scale)
    if ask.water_source is not None and (stage := water_source(ask.water_source).stage):
        required[stage] = True
    required["cyst_filter"] = required["cyst_filter"] | needs_cyst_filter(ask, results)
    of_light = np.maximum(_severity(results, missing, scale.forms_scale), _severity_of_origin(ask))
    severity = np.maximum(of_light, _severity_of_chemicals(results, missing))
    bacteria = _bacteria(results)
    train = [_stage(ask, name, required, notes) for name in treatment_train()]
    warn_results(results, missing, bacteria, notes)
    warn_origin(ask, notes)
    warn_cysts(ask, results, notes)
    warn_disagreement(ask, notes)
    warn_scale(ask, scale, notes)
    caution_of_water(results, bacteria, notes)
    return WaterCheckAnswer(
        verdict=label(severity, _VERDICTS),
        uv_verdict=label(of_light, _VERDICTS),
        complete=ask.water_source is not None and not missing,
        bacteria_present=bacteria,
        parameters=[result for result, _ in results.values()],
        not_tested=[
            UntestedParameter(name=name, not_assessed=limit.judges, needed=_is_needed(limit, results))
            for name, limit in missing.items()
        ],
        train=train,
        largest_backwash_flow=_greatest_backwash(train),
        saturation_ph=scale.saturation_ph,
        langelier_index=scale.langelier_index,
        ryznar_index=scale.ryznar_index,
        langelier_index_at_sleeve=scale.index_at_sleeve,
        scaling=scale.tendency,
        uv_cannot_remove=[UvCannotRemove(item=what, remedy=remedy) for what, remedy in uv_cannot_remove()],
    )


@water_check.check(*water_limits())
def _anything_tested(ask: Ask, notes: Notes) -> None:
    if not notes.undecided and not any(True for _ in _tested(ask)):
        names = list(water_limits())
        notes.refuse("required", names[0], f"Enter at least one result: {', '.join(names)}.", allowed=names)


@water_check.check("total_coliform", "e_coli")
def _part_of_the_coliforms(ask: Ask, notes: Notes) -> None:
    if ask.total_coliform is not None and ask.e_coli is not None:
        message = "E. coli is a coliform, so it cannot be present when total coliform is absent. Check both results."
        contradiction = np.logical_and(ask.e_coli > 0.0, ask.total_coliform <= 0.0)[()]
        notes.refuse("contradiction", "e_coli", message, when=contradiction)


def _is_needed(limit: WaterLimit, results: Mapping[str, tuple[Result, Any]]) -> Any:
    """Return whether a verdict is incomplete without a test; E. coli only if coliforms are present or not tested."""
    if limit.needed == "coliforms":
        return np.logical_not(results["total_coliform"][0].within)[()] if "total_coliform" in results else True
    return limit.needed != "no"


def _tested(ask: Ask) -> Any:
    for name, limit in water_limits().items():
        value = getattr(ask, name)
        if value is not None:
            yield name, limit, value


def _beside(name: str, ask: Ask) -> Numbers:
    """Return what adds to the load of a treatment: iron and manganese load one filter together."""
    return ask.iron if name == "manganese" and ask.iron is not None else 0.0


def _result(name: str, limit: WaterLimit, value: Numbers, beside: Numbers, notes: Notes) -> tuple[Result, Any]:
    """Return a result with its limits, and which treatment it needs: 0 for none, else its number in the list."""
    kind, symbol = _KINDS.get(name, ("concentration", "mg/L"))
    shown: Any = KINDS[kind].lookup[symbol].from_si(value)
    low, high = limit.lower, limit.upper
    under: Any = 0.0 if low is None else np.maximum(low - shown, 0.0)
    over: Any = 0.0 if high is None else np.maximum(shown - high, 0.0)
    beyond = under + over
    beyond = np.where(beyond > CLOSE * (high or low or 1.0), beyond, 0.0)[()]
    treatments, place = _placed(limit, KINDS[kind].lookup[symbol].from_si(value + beside), beyond, under > over)
    result = ParameterResult(
        name=name,
        unit=limit.unit,
        value=shown,
        reported=notes.printed[name].text if name in notes.printed else None,
        lower_limit=low,
        upper_limit=high,
        exceeds_limit_by=beyond,
        within=beyond <= 0.0,  # pyright: ignore[reportArgumentType] - one flag a row in a batch
        effect=limit.effect,
        treatment=label(place, (None, *(treatment.stage for treatment in treatments))),
        source=limit.source,
    )
    return result, (treatments, place)


def _placed(limit: WaterLimit, load: Any, beyond: Any, below: Any) -> tuple[tuple[Treatment, ...], Any]:
    treatments = (*limit.below, *limit.above)
    place: Any = 0 * np.asarray(beyond, dtype=np.intp)
    if not beyond.any():
        return treatments, place[()]
    for index, treatment in enumerate(treatments, start=1):
        on_its_side = below if index <= len(limit.below) else np.logical_not(below)
        reached = True if treatment.above is None else load > treatment.above * (1.0 + CLOSE)
        place = np.where(np.logical_and(np.logical_and(beyond > 0.0, on_its_side), reached), index, place)
    return treatments, place[()]


def _stages_required(results: Mapping[str, tuple[Result, Any]], forms_scale: Any) -> dict[str, Any]:
    required: dict[str, Any] = {name: stage.always for name, stage in treatment_train().items()}
    for _, (treatments, place) in results.values():
        for index, treatment in enumerate(treatments, start=1):
            if treatment.stage in required:
                required[treatment.stage] = required[treatment.stage] | (place == index)
    if forms_scale is not None:
        required["softener"] = required["softener"] | forms_scale
    return required


def _severity(results: Mapping[str, tuple[Result, Any]], missing: Mapping[str, WaterLimit], forms_scale: Any) -> Any:
    severity = _severity_of_gaps(results, missing, "ultraviolet", "coliforms")
    if forms_scale is not None:
        severity = np.maximum(severity, np.where(forms_scale, _TREAT, _OK))
    for result, found in results.values():
        if result.effect == "ultraviolet":
            worst = np.where(wants(found, SPECIALIST), _UNSUITABLE, np.where(result.within, _OK, _TREAT))
            severity = np.maximum(severity, worst)
    faecal = has_faecal(results)
    if faecal is not None:
        severity = np.maximum(severity, np.where(faecal, _TREAT, _OK))
    return severity if isinstance(severity, int) else severity[()]


def _severity_of_gaps(
    results: Mapping[str, tuple[Result, Any]], missing: Mapping[str, WaterLimit], *needed: str
) -> Any:
    """Return how severe the missing tests are for a verdict."""
    severity: Any = _OK
    for limit in missing.values():
        if limit.needed in needed:
            severity = np.maximum(severity, np.where(_is_needed(limit, results), _INCOMPLETE, _OK))
    return severity


def _severity_of_chemicals(results: Mapping[str, tuple[Result, Any]], missing: Mapping[str, WaterLimit]) -> Any:
    """Return how severe the chemicals are that UV light does not remove."""
    severity = _severity_of_gaps(results, missing, "drinking")
    for result, _ in results.values():
        if result.effect == "health":
            severity = np.maximum(severity, np.where(result.within, _OK, _TREAT))
    return severity if isinstance(severity, int) else severity[()]


def _severity_of_origin(ask: Ask) -> int:
    if ask.water_source is None:
        return _INCOMPLETE
    return _TREAT if water_source(ask.water_source).fix_first else _OK


def _bacteria(results: Mapping[str, tuple[Result, Any]]) -> Any:
    found: Any = None
    for result, _ in results.values():
        if result.effect == "disinfection":
            here = np.logical_not(result.within)
            found = here if found is None else np.logical_or(found, here)
    return found


def _stage(ask: Ask, name: str, required: Mapping[str, Any], notes: Notes) -> TrainStage[Any]:
    stage = treatment_train()[name]
    diameter = getattr(ask, _BEDS[name]) if name in _BEDS else None
    backwash: Any = None
    if stage.backwash_velocity is not None and diameter is not None:
        backwash = stage.backwash_velocity * cylinder_volume(diameter, 1.0)
        if ask.supply_flow is not None:
            message = (
                f"The {stage.title} needs more backwash flow than pump and well can sustain"
                f"{_flows(ask, backwash)}, so its bed would foul. Fit a narrower tank, two tanks in parallel, or a "
                "lighter medium."
            )
            short = np.logical_and(required[name], backwash > ask.supply_flow)
            notes.warn("backwash_short", "supply_flow", message, when=short)
    return TrainStage(
        name=name,
        title=stage.title,
        needed=required[name],
        service_flow=ask.peak_flow,
        backwash_velocity=stage.backwash_velocity,
        backwash_flow=backwash,
    )


def _flows(ask: Ask, backwash: Any) -> str:
    """Return both flows in the caller's unit, in brackets; nothing in a batch."""
    supply: Any = ask.supply_flow
    if np.ndim(backwash) or np.ndim(supply):
        return ""
    needed, sustained = (in_profile("flow", float(value), ask.units) for value in (backwash, supply))
    return f" ({needed}, {sustained} available)"


def _greatest_backwash(train: list[TrainStage[Any]]) -> Any:
    greatest: Any = np.nan
    for stage in train:
        if stage.backwash_flow is not None:
            greatest = np.fmax(greatest, np.where(stage.needed, stage.backwash_flow, np.nan))
    return greatest if isinstance(greatest, float) else greatest[()]
