"""Sections of a plan's page: water, units, run, chlorination, condensation, clearance, start-up, upkeep."""

from collections.abc import Iterator, Mapping
from typing import Any

import msgspec

from dosewright.engine.base import Answer
from dosewright.engine.sentences import capitalised
from dosewright.engine.writing import AnswerField
from dosewright.present.answer_tables import values_table
from dosewright.present.blocks import Block, Check, Checklist, Figure, Heading, Listing, Table, Text
from dosewright.present.picture.rendering import render
from dosewright.present.rounding import Side, amount, duration, measured, number, sides_of
from dosewright.present.views import chart_of
from dosewright.present.wording import in_words
from dosewright.quantities import KINDS
from dosewright.topics.chlorine.page import SIDES
from dosewright.topics.plan.contract import PlanAnswer
from dosewright.topics.site.drawing import drawing_of

__all__ = [
    "chlorination_blocks",
    "condensation_blocks",
    "place_blocks",
    "run_blocks",
    "start_blocks",
    "units_blocks",
    "upkeep_blocks",
    "water_blocks",
]

_YES_OR_NO = {True: "yes", False: "no", None: "not known"}


def _values(
    answer: msgspec.Struct,
    caption: str,
    units: Mapping[str, str] | None = None,
    at: str = "",
    sides: Mapping[str, Side] | None = None,
) -> Iterator[Block]:
    """Yield the single numbers of an answer or of a part of it, each with its meaning in the contract.

    `sides` gives the side to round each to, for amounts that a person measures out.
    """
    rounded = sides_of(type(answer)) if sides is None else sides

    def shown(field: AnswerField, value: Any, unit: str) -> str | None:
        if field.kind is None or not isinstance(value, float):
            return None
        return (duration if sides is None else amount)(value, unit, rounded.get(field.name))

    yield from values_table(answer, caption, shown, units, at)


def water_blocks(answer: PlanAnswer[float]) -> Iterator[Block]:
    """Yield the water test and the treatment."""
    test = answer.water_test
    if test is None:
        return
    yield Heading("Water test")
    rows = tuple(
        (
            in_words(one.name),
            _result(one),
            _limits(one),
            _YES_OR_NO[one.within],
            (one.treatment or "–").replace("_", " "),
        )
        for one in test.parameters
    )
    yield Table("Raw water and its limits", ("Parameter", "Result", "Limit", "Within limit", "Treatment"), rows)
    yield from _values(test, "Other values of the water")
    stages = tuple(stage.title for stage in test.train if stage.needed)
    if stages:
        yield Heading("Order of treatment", 3)
        yield Listing(stages)
    if test.uv_cannot_remove:
        rows = tuple((stays.item, stays.remedy) for stays in test.uv_cannot_remove)
        yield Table("What UV light does not remove", ("What stays", "What removes it"), rows)


def _result(result: Any) -> str:
    """Return a result as the laboratory printed it; a number that was converted, in the unit of the limit too."""
    if result.reported and not result.reported[0].isdigit():
        return str(result.reported)
    value = measured(result.value, result.unit, _worse_side(result))
    return f"{value} ({result.reported})" if result.reported else value


def _worse_side(result: Any) -> Side | None:
    """Return the side to round a result to: towards a limit that it meets, away from one that it exceeds."""
    low, high = result.lower_limit, result.upper_limit
    if low is None or high is None:
        return "up" if high is not None else "down" if low is not None else None
    return "up" if result.value - low > high - result.value else "down"


def _limits(result: Any) -> str:
    ends = (("at least ", result.lower_limit), ("at most ", result.upper_limit))
    texts = [f"{word}{measured(limit, result.unit)}" for word, limit in ends if limit is not None]
    return ", ".join(texts) or "–"


def units_blocks(answer: PlanAnswer[float]) -> Iterator[Block]:
    """Yield the UV units."""
    if not answer.equipment:
        return
    yield Heading("UV unit")
    yield Text(f"Peak flow: {measured(answer.peak_flow, answer.units['peak_flow'], 'up')}.")
    if answer.demand is not None:
        yield from _values(answer.demand, "Demand of the house")
    flow, room = answer.units["choices.derated_flow"], answer.units["choices.flow_margin"]
    rows = tuple(
        (
            f"Unit {choice.number + 1}{' (chosen)' if choice.chosen else ''}",
            _described(answer.equipment[choice.number]),
            measured(choice.derated_flow, flow, "down"),
            measured(choice.flow_lower_bound, flow, "down"),
            measured(choice.flow_margin, room, "down"),
            _YES_OR_NO[choice.covers_peak_flow],
        )
        for choice in answer.choices
    )
    head = ("Unit", "Description", "Derated flow", "At least", "Above peak flow by", "Covers peak flow")
    yield Table("Comparison of the units", head, rows)
    chosen = next(answer.equipment[choice.number] for choice in answer.choices if choice.chosen)
    rows = tuple((in_words(s.name), s.meaning, number(s.factor), measured(s.flow, flow, "down")) for s in chosen.steps)
    yield Table("Derated flow of the chosen unit, step by step", ("Step", "Meaning", "Factor", "Flow"), rows)
    yield _chart(chosen)


def _described(unit: Any) -> str:
    """Return the description of a unit: its rated points or output, its chamber, the number of units."""
    given = unit.inputs
    texts = [
        f"rated {_in_unit('flow', point['rated_flow'], unit.units['derated_flow'])} at "
        f"{_in_unit('dose', point['dose'], 'mJ/cm2')} and a UVT of {_in_unit('share', point['uvt'], '%')}"
        for point in given.get("rated_points", ())
    ]
    if not texts:
        texts.append(f"{number(given['uvc_output'])} W of UV-C")
    if "chamber_bore" in given:
        bore, length = (_in_unit("small_length", given[name], "mm") for name in ("chamber_bore", "chamber_length"))
        texts.append(f"chamber {bore.removesuffix(' mm')} x {length}")
    texts += [
        f"{number(given[name])} {name.replace('units_', '')}"
        for name in ("units_in_parallel", "units_in_series")
        if given[name] > 1.0
    ]
    return "; ".join(texts)


def _in_unit(kind: str, si: float, unit: str) -> str:
    return measured(float(KINDS[kind].lookup[unit].from_si(si)), unit)


def _chart(answer: Answer) -> Figure:
    chart = chart_of(answer)
    return Figure(chart.title, render(chart, "svg").decode(), chart.description)


def run_blocks(answer: PlanAnswer[float]) -> Iterator[Block]:
    """Yield the pressure along the pipe run."""
    if answer.plumbing is not None:
        yield Heading("Pressure along the pipe run")
        yield _chart(answer.plumbing)
        yield from _values(answer.plumbing, "Pipe run at the peak flow")


def chlorination_blocks(answer: PlanAnswer[float]) -> Iterator[Block]:
    """Yield the chlorination."""
    dosed = answer.chlorination
    if dosed is None:
        return
    yield Heading("Shock chlorination")
    rows = tuple(
        (one.measure, in_words(one.system), measured(one.free_chlorine, dosed.units["measures.free_chlorine"]))
        for one in dosed.measures
    )
    yield Table("Amount of product: use one of these", ("Amount", "Measures", "Gives free chlorine"), rows)
    yield from _values(dosed, "Dose in numbers", sides=SIDES)
    yield Heading("Sampling and discharge", 3)
    yield from _values(dosed.retest, "Sampling after the flush, before anyone drinks the water", dosed.units, "retest.",
                       SIDES)  # fmt: skip
    yield from _values(dosed.discharge, "Water to discharge", dosed.units, "discharge.", SIDES)
    if dosed.no_discharge_places:
        rows = tuple((in_words(place.place), place.reason) for place in dosed.no_discharge_places)
        yield Table("Where chlorinated water must not go", ("Place", "Reason"), rows)


def condensation_blocks(answer: PlanAnswer[float]) -> Iterator[Block]:
    """Yield the condensation."""
    if answer.condensation is not None:
        yield Heading("Condensation on pipes and chamber")
        yield Text(
            "At least one surface sweats in this room."
            if answer.condensation.sweats
            else "No surface sweats in this room."
        )
        yield from _values(answer.condensation, "Air and surfaces")


def place_blocks(answer: PlanAnswer[float]) -> Iterator[Block]:
    """Yield the clearance of the train on its wall."""
    place = answer.clearance
    if place is None:
        return
    yield Heading("Clearance on the wall")
    reach = measured(place.lamp_clearance, place.units["lamp_clearance"])
    fits = [_fit(value, what) for value, what in (
        (place.clears_floor, "above the floor"), (place.clears_ceiling, "below the ceiling"),
        (place.fits_width, "on the wall"),
    )]  # fmt: skip
    words = (
        f"Elevation of the train, service clearances dashed. Lamp and sleeve need {reach} of clearance to be drawn "
        f"out. {' '.join(fits)} Devices from left to right: {', '.join(one.name for one in place.devices)}."
    )
    yield Figure("Elevation to scale", drawing_of(place), words)
    units = place.units
    rows = tuple(
        (
            capitalised(one.name),
            measured(one.left, units["devices.left"]),
            measured(one.width, units["devices.width"]),
            measured(one.service_bottom, units["devices.service_bottom"]),
            measured(one.service_top, units["devices.service_top"]),
        )
        for one in place.devices
    )
    yield Table("Positions, with service clearance", ("Device", "Left edge", "Width", "From height", "To height"), rows)


def _fit(fits: bool | None, what: str) -> str:  # noqa: FBT001 - one of three answers
    return {True: f"It fits {what}.", False: f"It does not fit {what}.", None: f"Whether it fits {what} is not known."}[
        fits
    ]


def start_blocks(answer: PlanAnswer[float]) -> Iterator[Block]:
    """Yield the start-up checklist."""
    start = answer.commissioning
    if start is None:
        return
    yield Heading("Start-up checklist")
    units, titles = start.units, {step.step: step.title for step in start.steps}
    working = duration(start.working_time, units["working_time"], "up")
    samples = duration(start.days_to_second_sample, units["days_to_second_sample"], "up")
    yield Text(f"The steps take at least {working}. The second sample is at least {samples} after the start.")
    yield Checklist(tuple(Check(step.title, tuple(_details(step, units, titles))) for step in start.steps))


def _details(step: Any, units: dict[str, str], titles: dict[str, str]) -> Iterator[str]:
    yield step.action
    amounts = [
        f"{name}: {shown}"
        for name, shown in (
            ("amount of product", step.amount),
            (
                "volume",
                None if step.volume is None else amount(step.volume, units["steps.volume"], "up"),
            ),
            ("minimum time", None if step.duration is None else _time_up(step.duration, units)),
            ("pressure", None if step.pressure is None else measured(step.pressure, units["steps.pressure"])),
            ("reducing agent", None if step.mass is None else amount(step.mass, units["steps.mass"], "up")),
        )
        if shown is not None
    ]
    if amounts:
        yield f"{capitalised('; '.join(amounts))}."
    if step.after:
        yield f"First finish: {titles[step.after]}."
    yield f"What can go wrong: {step.risk}"
    yield f"Danger: {step.caution}"


def _time_up(value: float, units: Mapping[str, str]) -> str:
    return duration(value, units["steps.duration"], "up")


def upkeep_blocks(answer: PlanAnswer[float]) -> Iterator[Block]:
    """Yield the upkeep calendar."""
    due = answer.upkeep
    if due is None:
        return
    yield Heading("Upkeep calendar")
    flow = due.units["events.derated_flow"]
    rows = tuple(
        (
            event.day,
            event.meaning,
            event.due_by_measure.replace("_", " "),
            measured(event.derated_flow, flow, "down"),
            _YES_OR_NO[event.covers_peak_flow],
        )
        for event in due.events
    )
    yield Table("Upkeep tasks", ("Date", "Task", "Due by", "Derated flow then", "Covers peak flow"), rows)
    yield from _values(due, "Intervals and yearly cost")
