"""The page an owner keeps of a plan: verdict and dangers first, then everything it rests on."""

from collections.abc import Iterator
from typing import Any, cast

from dosewright.engine.base import Answer
from dosewright.engine.directions import safer_of
from dosewright.engine.writing import answer_fields
from dosewright.present.answer_tables import sources_table
from dosewright.present.blocks import Block, Heading, Lines, Notice, Page, Table, Text
from dosewright.present.rounding import AMOUNTS, ROUNDING, measured
from dosewright.present.wording import in_words, said
from dosewright.topics.plan.contract import PlanAnswer
from dosewright.topics.plan.page_parts import (
    chlorination_blocks,
    condensation_blocks,
    place_blocks,
    run_blocks,
    start_blocks,
    units_blocks,
    upkeep_blocks,
    water_blocks,
)
from dosewright.topics.plan.wording import VERDICTS, WEIGHTS

__all__ = ["plan_page"]

_TITLE = "Water treatment plan"


def plan_page(answer: PlanAnswer[float]) -> Page:
    """Return what the page of a plan holds; every caution of its parts is on it."""
    parts = (
        _verdict, _reasons, water_blocks, units_blocks, run_blocks, chlorination_blocks, condensation_blocks,
        place_blocks, start_blocks, upkeep_blocks, _warnings, _sources, _signatures, _again,
    )  # fmt: skip
    return Page(_TITLE, tuple(block for part in parts for block in part(answer)))


def _verdict(answer: PlanAnswer[float]) -> Iterator[Block]:
    title, told = VERDICTS[answer.verdict]
    yield Notice(f"Verdict: {title}", (told, *_in_short(answer)))
    yield Notice("Dangers in this work", tuple(caution.message for caution in answer.cautions))


def _in_short(answer: PlanAnswer[float]) -> Iterator[str]:
    """Yield what to know at once: what stands in the way, and what the chosen unit carries."""
    for reason in answer.reasons:
        if reason.weight != "look":
            # What the water test says names value and limit already.
            told = reason.beyond_by if reason.section != "water_test" else None
            by = f" Beyond its limit by {said(told, 'up')}." if told else ""
            yield f"{WEIGHTS[reason.weight]}: {reason.message}{by}"
    for choice in answer.choices:
        if choice.chosen:
            symbol, sure = answer.units["choices.derated_flow"], choice.flow_lower_bound
            flow = measured(choice.derated_flow, symbol, "down")
            if sure is not None:
                flow = f"{measured(sure, symbol, 'down')} for certain, {flow} at best,"
            peak = measured(answer.peak_flow, answer.units["peak_flow"], "up")
            what = f"Unit {choice.number + 1} carries {flow} at this water, lamp age and sleeve"
            yield f"{what}; the peak flow is {peak if answer.peak_flow is not None else 'not known'}."


def _reasons(answer: PlanAnswer[float]) -> Iterator[Block]:
    yield Heading("Reasons, heaviest first")
    if answer.reasons:
        rows = tuple(
            (
                WEIGHTS[one.weight],
                one.message,
                said(one.beyond_by, "up") if one.beyond_by else "–",
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
        (_section(turn.input), *_now_and_turn(turn, answer.verdict), VERDICTS[turn.verdict_then][0])
        for turn in first.values()
    )
    caption = "One input at a time past the value named, all other reasons as they are"
    yield Table(caption, ("Input", "Now", "Turns at", "Verdict then"), rows)


def _now_and_turn(turn: Any, verdict: str) -> tuple[str, str]:
    """Return the present and the turning value of an input; rounding never makes what turns to worse look further.

    A value at which the verdict gets better is rounded away from the present one, for the same reason.
    """
    now, _, unit = turn.now.partition(" ")
    at = float(turn.turns_at.partition(" ")[0])
    order: Any = safer_of(PlanAnswer)["verdict"]
    rises = at > float(now)
    worse = order.index(turn.verdict_then) > order.index(verdict)
    return measured(float(now), unit, None, 4), measured(at, unit, "down" if rises == worse else "up", 4)


def _section(name: str) -> str:
    first, *rest = name.replace("/", ".").split(".")
    if first == "equipment" and rest:
        return ", ".join([f"Unit {int(rest[0]) + 1}", *(in_words(part) for part in rest[1:])])
    return ", ".join(in_words(part) for part in (first, *rest))


def _warnings(answer: PlanAnswer[float]) -> Iterator[Block]:
    # A section within another warns of the same again, and some are reasons; each is told once.
    told = {reason.message for reason in answer.reasons}
    found: dict[str, str] = {}
    for warning in answer.warnings:
        if warning.message not in told:
            found.setdefault(warning.message, _section(warning.field))
    if found:
        yield Heading("To look at")
        rows = tuple((place, message) for message, place in found.items())
        yield Table("Warnings of the parts", ("Part", "Warning"), rows)


def _sources(answer: PlanAnswer[float]) -> Iterator[Block]:
    yield Heading("Sources")
    yield sources_table(_parts(answer))
    if answer.defaults:
        rows = tuple((part, "; ".join(values)) for part, values in _defaults(answer).items())
        yield Table("Usual values used where nothing was given", ("Part", "Values used"), rows, small=True)
    yield Text(ROUNDING if answer.chlorination is None else f"{ROUNDING} {AMOUNTS}", small=True)


def _defaults(answer: PlanAnswer[float]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, text in answer.defaults.items():
        place = name.split(".")
        own = 2 if place[0] == "equipment" else 1
        told = " ".join(in_words(one).lower() if not one.isdigit() else f"{int(one) + 1}" for one in place[own:])
        found.setdefault(_section(".".join(place[:own])), []).append(f"{told} {text}")
    return found


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
