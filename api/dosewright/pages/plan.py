"""The page an owner keeps of a plan: verdict and dangers first, then everything it rests on."""

from collections.abc import Iterator, Mapping
from typing import Any, cast

import msgspec

from dosewright.contracts.base import Answer
from dosewright.contracts.plan import PlanAnswer
from dosewright.contracts.writing import answer_fields
from dosewright.pages.blocks import Block, Check, Checklist, Figure, Heading, Lines, Listing, Notice, Page, Table, Text
from dosewright.pages.drawing import drawing_of
from dosewright.pages.wording import ROUNDING, duration, in_words, measured, said
from dosewright.pictures import chart_of, render

__all__ = ["plan_page"]

_TITLE = "Water treatment plan"
_VERDICTS = {
    "go": ("Go", "By what was given, ultraviolet disinfection fits this water and this house."),
    "treat_first": ("Treat or mend first", "Ultraviolet disinfection comes after what is named below is done."),
    "do_not": ("Do not install so", "What is named below first speaks against it."),
    "incomplete": ("Cannot be judged yet", "Too little was given to judge; what is missing is named below."),
}
_WEIGHTS = {"stop": "Stops it", "fix_first": "To be done first", "look": "Worth a look"}
_EFFECT = {True: "yes", False: "no", None: "not known"}


def plan_page(answer: PlanAnswer[float]) -> Page:
    """Return what the page of a plan holds; every caution of its parts is on it."""
    parts = (
        _verdict, _reasons, _water, _units, _run, _chlorination, _condensation, _place, _start, _upkeep, _warnings,
        _sources, _signatures, _again,
    )  # fmt: skip
    return Page(_TITLE, tuple(block for part in parts for block in part(answer)))


def _verdict(answer: PlanAnswer[float]) -> Iterator[Block]:
    title, told = _VERDICTS[answer.verdict]
    yield Notice(f"Verdict: {title}", (told,))
    yield Notice("Dangers in this work", tuple(caution.message for caution in answer.cautions))


def _reasons(answer: PlanAnswer[float]) -> Iterator[Block]:
    yield Heading("Reasons, heaviest first")
    if answer.reasons:
        rows = tuple(
            (
                _WEIGHTS[one.weight],
                one.message[:1].upper() + one.message[1:],
                one.beyond_by or "–",
                _section(one.section),
            )
            for one in answer.reasons
        )
        yield Table("Reasons of the verdict", ("Weight", "Reason", "Beyond its limit by", "Part"), rows)
    else:
        yield Text("Nothing in what was given speaks against it.")
    yield Heading("What is missing", 3)
    if answer.missing:
        rows = tuple((_section(gap.section), gap.cannot_judge) for gap in answer.missing)
        yield Table("Parts that were not given; nothing was assumed in their place", ("Part", "Cannot be judged"), rows)
    else:
        yield Text("No part is missing.")
    if answer.turns:
        yield Heading("What would turn the verdict", 3)
        yield from _turns(answer)


def _turns(answer: PlanAnswer[float]) -> Iterator[Block]:
    # Of one input, the value that turns it first: the list has them in that order.
    first: dict[str, Any] = {}
    for turn in answer.turns:
        if turn.turns_at is not None and turn.verdict_then not in {None, answer.verdict}:
            first.setdefault(turn.input, turn)
    if not first:
        yield Text("No single input turns it: more than one reason stands in the way.")
        return
    rows = tuple(
        (_section(turn.input), said(turn.now), said(turn.turns_at), _VERDICTS[turn.verdict_then][0])
        for turn in first.values()
    )
    caption = "One input at a time past the value named, all other reasons as they are"
    yield Table(caption, ("Input", "Now", "Turns at", "Verdict then"), rows)


def _section(name: str) -> str:
    first, *rest = name.replace("/", ".").split(".")
    if first == "equipment" and rest:
        return ", ".join([f"Unit {int(rest[0]) + 1}", *(in_words(part) for part in rest[1:])])
    return ", ".join(in_words(part) for part in (first, *rest))


def _values(
    answer: msgspec.Struct, caption: str, units: Mapping[str, str] | None = None, at: str = ""
) -> Iterator[Block]:
    """Yield the single numbers of an answer or of a part of it, each by its meaning in the contract."""
    symbols = answer.units if isinstance(answer, Answer) else units or {}
    rows: list[tuple[str, ...]] = []
    for field in answer_fields(type(answer)):
        value = getattr(answer, field.name)
        if field.kind is not None and isinstance(value, float):
            unit = symbols.get(at + field.name, "")
            rows.append((in_words(field.name), duration(value, unit), field.doc))
    if rows:
        yield Table(caption, ("Value", "Amount", "What it is"), tuple(rows))


def _water(answer: PlanAnswer[float]) -> Iterator[Block]:
    test = answer.water_test
    if test is None:
        return
    yield Heading("The water")
    rows = tuple(
        (
            in_words(one.name),
            measured(one.value, one.unit),
            _limits(one),
            _EFFECT[one.within],
            (one.treatment or "–").replace("_", " "),
        )
        for one in test.parameters
    )
    yield Table("Raw water against its limits", ("Parameter", "Found", "Limit", "Within", "Treatment"), rows)
    yield from _values(test, "Further values of the water")
    stages = tuple(stage.title for stage in test.train if stage.needed)
    if stages:
        yield Heading("Order of treatment", 3)
        yield Listing(stages)
    if test.uv_cannot_remove:
        rows = tuple((stays.what, stays.remedy) for stays in test.uv_cannot_remove)
        yield Table("What ultraviolet light cannot take out", ("What stays", "What takes it out"), rows)


def _limits(result: Any) -> str:
    ends = (("at least ", result.lower_limit), ("at most ", result.upper_limit))
    told = [f"{word}{measured(limit, result.unit)}" for word, limit in ends if limit is not None]
    return ", ".join(told) or "–"


def _units(answer: PlanAnswer[float]) -> Iterator[Block]:
    if not answer.equipment:
        return
    yield Heading("The ultraviolet unit")
    yield Text(f"Peak flow it is held against: {measured(answer.peak_flow, answer.units['peak_flow'])}.")
    if answer.demand is not None:
        yield from _values(answer.demand, "Demand of the house")
    flow, room = answer.units["choices.derated_flow"], answer.units["choices.head_room"]
    rows = tuple(
        (
            f"Unit {choice.number + 1}{' (chosen)' if choice.chosen else ''}",
            measured(choice.derated_flow, flow),
            measured(choice.head_room, room),
            _EFFECT[choice.covers_peak_flow],
        )
        for choice in answer.choices
    )
    yield Table("Units side by side", ("Unit", "Derated flow", "Head-room", "Covers the peak flow"), rows)
    yield _chart(next(answer.equipment[choice.number] for choice in answer.choices if choice.chosen))


def _chart(answer: Answer) -> Figure:
    chart = chart_of(answer)
    return Figure(chart.title, render(chart, "svg").decode(), chart.description)


def _run(answer: PlanAnswer[float]) -> Iterator[Block]:
    if answer.plumbing is not None:
        yield Heading("Pressure along the run")
        yield _chart(answer.plumbing)
        yield from _values(answer.plumbing, "The run at the peak flow")


def _chlorination(answer: PlanAnswer[float]) -> Iterator[Block]:
    dosed = answer.chlorination
    if dosed is None:
        return
    yield Heading("Disinfection with chlorine: amounts to dose")
    rows = tuple(
        (one.measure, in_words(one.system), measured(one.free_chlorine, dosed.units["measures.free_chlorine"]))
        for one in dosed.measures
    )
    yield Table("Take one of these amounts of the product", ("Amount", "Measures", "Gives free chlorine"), rows)
    yield from _values(dosed, "The same in numbers")
    yield Heading("Before the water is drunk, and where it may go", 3)
    yield from _values(dosed.retest, "Sampling after the flush", dosed.units, "retest.")
    yield from _values(dosed.discharge, "What is let go", dosed.units, "discharge.")
    if dosed.keep_out:
        rows = tuple((in_words(place.place), place.why) for place in dosed.keep_out)
        yield Table("Where chlorinated water must not go", ("Place", "Why"), rows)


def _condensation(answer: PlanAnswer[float]) -> Iterator[Block]:
    if answer.condensation is not None:
        yield Heading("Sweating of pipe and chamber")
        yield Text("It sweats in this room." if answer.condensation.sweats else "It does not sweat in this room.")
        yield from _values(answer.condensation, "Air and surfaces")


def _place(answer: PlanAnswer[float]) -> Iterator[Block]:
    place = answer.clearance
    if place is None:
        return
    yield Heading("The train on the wall, to scale")
    reach = measured(place.room_to_draw, place.units["room_to_draw"])
    fits = [_fit(value, what) for value, what in (
        (place.clears_floor, "the floor"), (place.clears_ceiling, "the ceiling"), (place.fits_width, "the wall's width")
    )]  # fmt: skip
    words = (
        f"Elevation of the train with the room to service each device dashed. Lamp and sleeve need {reach} to be drawn "
        f"out. {' '.join(fits)} The devices from left to right: {', '.join(one.name for one in place.devices)}."
    )
    yield Figure("Elevation to scale", drawing_of(place), words)
    units = place.units
    rows = tuple(
        (
            one.name[:1].upper() + one.name[1:],
            measured(one.left, units["devices.left"]),
            measured(one.width, units["devices.width"]),
            measured(one.service_bottom, units["devices.service_bottom"]),
            measured(one.service_top, units["devices.service_top"]),
        )
        for one in place.devices
    )
    yield Table("Places, with service room", ("Device", "Left edge", "Width", "From height", "To height"), rows)


def _fit(fits: bool | None, what: str) -> str:  # noqa: FBT001 - one of three answers
    return {True: f"It fits {what}.", False: f"It does not fit {what}.", None: f"Whether it fits {what} is not known."}[
        fits
    ]


def _start(answer: PlanAnswer[float]) -> Iterator[Block]:
    start = answer.commissioning
    if start is None:
        return
    yield Heading("Checklist of the start")
    units, titles = start.units, {step.step: step.title for step in start.steps}
    working = duration(start.working_time, units["working_time"])
    samples = duration(start.days_to_second_sample, units["days_to_second_sample"])
    yield Text(f"Time of all steps, at least: {working}. To the second sample, at least: {samples}.")
    yield Checklist(tuple(Check(step.title, tuple(_details(step, units, titles))) for step in start.steps))


def _details(step: Any, units: dict[str, str], titles: dict[str, str]) -> Iterator[str]:
    yield step.does
    amounts = [
        f"{name}: {shown}"
        for name, shown in (
            ("amount of product", step.amount),
            ("volume", None if step.volume is None else measured(step.volume, units["steps.volume"])),
            ("time, at least", None if step.duration is None else duration(step.duration, units["steps.duration"])),
            ("pressure", None if step.pressure is None else measured(step.pressure, units["steps.pressure"])),
            ("reducing agent", None if step.mass is None else measured(step.mass, units["steps.mass"])),
        )
        if shown is not None
    ]
    if amounts:
        told = "; ".join(amounts)
        yield f"{told[:1].upper()}{told[1:]}."
    if step.waits_for:
        yield f"Only after: {titles[step.waits_for]}."
    yield f"What can go wrong: {step.goes_wrong}"
    yield f"Danger: {step.caution}"


def _upkeep(answer: PlanAnswer[float]) -> Iterator[Block]:
    due = answer.upkeep
    if due is None:
        return
    yield Heading("Upkeep calendar")
    flow = due.units["events.derated_flow"]
    rows = tuple(
        (
            event.day,
            event.meaning,
            event.due_by.replace("_", " "),
            measured(event.derated_flow, flow),
            _EFFECT[event.covers_peak_flow],
        )
        for event in due.events
    )
    yield Table("What falls due", ("Day", "Task", "Due by", "Derated flow then", "Covers the peak flow"), rows)
    yield from _values(due, "Intervals and cost of a year")


def _warnings(answer: PlanAnswer[float]) -> Iterator[Block]:
    if answer.warnings:
        yield Heading("To look at")
        # A section within another warns of the same again; each is told once, where it first stands.
        found: dict[str, str] = {}
        for warning in answer.warnings:
            found.setdefault(warning.message, _section(warning.field))
        rows = tuple((place, message) for message, place in found.items())
        yield Table("Warnings of the parts", ("Part", "Warning"), rows)


def _sources(answer: PlanAnswer[float]) -> Iterator[Block]:
    yield Heading("Sources")
    found: dict[tuple[str, str, str], None] = {}
    for given in _parts(answer):
        found.update(((basis.method, basis.source, basis.validity), None) for basis in given.basis)
    yield Table(
        "Methods, where they are published, and where they hold", ("Method", "Source", "Holds for"), tuple(found)
    )
    if answer.defaults:
        rows = tuple((_section(name), text) for name, text in answer.defaults.items())
        yield Table("Usual values used where nothing was given", ("Input", "Value used"), rows)
    yield Text(ROUNDING, small=True)


def _parts(answer: PlanAnswer[float]) -> Iterator[Answer]:
    """Yield the plan and each of its sections' answers."""
    yield answer
    for field in answer_fields(type(answer)):
        value = getattr(answer, field.name)
        entries = cast("list[Any]", value) if isinstance(value, list) else [value]
        yield from (entry for entry in entries if isinstance(entry, Answer))


def _signatures(_: PlanAnswer[float]) -> Iterator[Block]:
    yield Heading("Names and signatures")
    yield Lines(("Address of the installation", "Planned by, date, signature", "Installed by, licence, date, signature",
                 "Owner, date, signature", "Laboratory, first sample, date and result",
                 "Laboratory, second sample, date and result"))  # fmt: skip


def _again(answer: PlanAnswer[float]) -> Iterator[Block]:
    yield Heading("The same again")
    if answer.question is None:
        yield Text("The plan is too long for one address: keep the file it was asked with; it gives this page again.")
    else:
        yield Text("This address, behind that of a service, gives the same answer again:")
        yield Text(answer.question, small=True)
    yield Text(f"Calculated by Dosewright {answer.version}.", small=True)
