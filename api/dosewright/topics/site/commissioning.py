"""The start-up steps of an installation, with the amounts and times of the chlorination."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from dosewright.engine.base import Basis
from dosewright.engine.compose import Composer
from dosewright.engine.notes import Notes, caution
from dosewright.engine.registry import calculation
from dosewright.tables import table
from dosewright.topics.site.contracts.commissioning import CommissioningAnswer, CommissioningRequest, CommissioningStep

__all__ = ["commissioning"]

_ORDER = Basis(
    method="steps in order, each with what it waits for; flush volume = bed volume or line contents x exchanges, "
    "time = volume / flush flow",
    source="common practice, no source; amounts, hold and samples of the chlorination: chlorine/shock",
    validity="one well or cistern, one train; the unit's instructions come first, above all on chlorine in the chamber",
)
_SAMPLES = frozenset({"first_sample", "second_sample"})
_OF_CHLORINATION = frozenset({"bypass", "chlorinate", "hold", "flush_chlorine", "neutralise"})


class _Amounts(NamedTuple):
    """Amounts of a step; None if not applicable."""

    amount: str | None = None
    volume: float | None = None
    duration: float | None = None
    pressure: float | None = None
    mass: float | None = None


@calculation(
    "site/commissioning",
    request=CommissioningRequest,
    answer=CommissioningAnswer,
    summary="Start-up checklist of an installation",
    example={
        "flush_flow": "6 gal/min",
        "working_pressure": "60 psi",
        "line_volume": "9 gal",
        "carbon_filters": [{"bed_volume": "28 L"}],
        "chlorination": {
            "vessels": [
                {"kind": "drilled_casing", "diameter": "6 in", "water_column": "110 ft"},
                {"kind": "pressure_tank", "volume": "32 gal", "fill": "45 %"},
            ],
            "product": {"kind": "liquid", "sodium_hypochlorite": "6 %"},
            "free_chlorine": "100 mg/L",
        },
    },
    batch=False,
)
def commissioning(ask: CommissioningRequest[float], notes: Notes) -> CommissioningAnswer[float]:
    """Ordered steps from shutting off to the second clear sample, each with its amount, time and danger.

    Amounts, hold and flush of the chlorination are those of ``chlorine/shock`` for the section given; without one, its
    steps are omitted and a warning says so.
    """
    composer = Composer(ask.units)
    chlorination: Any = ask.chlorination
    dosed = composer.ask("chlorination", "chlorine/shock", chlorination, {})
    composer.refuse_faults()
    notes.add_basis(_ORDER)
    if dosed is None:
        message = (
            "No chlorination section: the checklist omits its steps, and nothing downstream is disinfected. Add "
            "chlorination."
        )
        notes.warn("no_chlorination", "chlorination", message)
    amounts = _amounts(ask, dosed)
    steps = [
        CommissioningStep(
            number=number,
            step=row["step"],
            title=row["title"],
            action=row["action"],
            **amounts.get(row["step"], _Amounts())._asdict(),
            after=row["after"] or None,
            risk=row["risk"],
            caution=caution(row["caution"]).message,
        )
        for number, row in enumerate(_rows(ask, with_chlorine=dosed is not None), 1)
    ]
    composer.add_to_notes(notes, carried=False)
    texts = {caution.code for caution in notes.cautions}
    own = [row["caution"] for row in table("commissioning_steps").rows]
    notes.caution(*(code for code in dict.fromkeys([*own, "local_rules"]) if code not in texts))
    working = sum(step.duration or 0.0 for step in steps if step.step not in _SAMPLES)
    return CommissioningAnswer(
        steps=steps,
        working_time=working,
        days_to_second_sample=working + ask.first_sample_after + ask.second_sample_after,
    )


def _rows(ask: CommissioningRequest[float], *, with_chlorine: bool) -> list[Mapping[str, str]]:
    omitted: set[str] = set()
    if not with_chlorine:
        omitted |= _OF_CHLORINATION
    if not ask.carbon_filters:
        omitted.add("flush_carbon")
    if not ask.discharge_neutralised:
        omitted.add("neutralise")
    kept = [row for row in table("commissioning_steps").rows if row["step"] not in omitted]
    return [_waiting(row, kept) for row in kept]


def _waiting(row: Mapping[str, str], kept: list[Mapping[str, str]]) -> Mapping[str, str]:
    """Return a step; if the step it depends on is omitted, it depends on the one before it instead."""
    names = [other["step"] for other in kept]
    if not row["after"] or row["after"] in names:
        return row
    return {**row, "after": names[names.index(row["step"]) - 1]}


def _amounts(ask: CommissioningRequest[float], dosed: Any) -> dict[str, _Amounts]:
    carbon = sum(item.bed_volume * item.flush_bed_volumes for item in ask.carbon_filters or ())
    line = None if ask.line_volume is None else ask.line_volume * ask.line_volume_changes
    found = {
        "leak_check": _Amounts(duration=ask.leak_check_time, pressure=ask.working_pressure),
        "flush_carbon": _flush(carbon, ask.flush_flow),
        "flush": _flush(line, ask.flush_flow),
        "lamp": _Amounts(duration=ask.lamp_warm_up),
        "first_sample": _Amounts(duration=ask.first_sample_after),
        "second_sample": _Amounts(duration=ask.second_sample_after),
    }
    if dosed is not None:
        measured = " or ".join(measure.measure for measure in dosed.measures)
        found["chlorinate"] = _Amounts(amount=measured, volume=dosed.volume)
        found["hold"] = _Amounts(duration=dosed.hold_time)
        found["flush_chlorine"] = _flush(dosed.flush_volume, ask.flush_flow)
        mass = None if dosed.neutraliser is None else dosed.neutraliser.mass
        found["neutralise"] = _Amounts(volume=dosed.volume, mass=mass)
    return found


def _flush(volume: float | None, flow: float) -> _Amounts:
    return _Amounts() if volume is None else _Amounts(volume=volume, duration=volume / flow)
