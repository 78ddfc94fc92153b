"""The page of a plan, for the owner to keep: verdict and dangers first, then the details and sources."""

from collections.abc import Iterator
from typing import Any, cast

from dosewright.engine.base import Answer
from dosewright.engine.directions import safer_of
from dosewright.engine.writing import answer_fields
from dosewright.present.answer_tables import sources_table
from dosewright.present.blocks import Block, Heading, Lines, Notice, Page, Table, Text
from dosewright.present.rounding import AMOUNTS, ROUNDING, measured
from dosewright.present.wording import in_words, rounded
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
from dosewright.topics.plan.wording import SEVERITIES, VERDICTS, reason_line

__all__ = ["plan_page"]

_TITLE = "Water treatment plan"


def plan_page(answer: PlanAnswer[float]) -> Page:
    """Return the page of a plan, with every caution of its sections."""
    parts = (
        _verdict, _reasons, water_blocks, units_blocks, run_blocks, chlorination_blocks, condensation_blocks,
        place_blocks, start_blocks, upkeep_blocks, _warnings, _sources, _signatures, _again,
    )  # fmt: skip
    return Page(_TITLE, tuple(block for part in parts for block in part(answer)))


def _verdict(answer: PlanAnswer[float]) -> Iterator[Block]:
    title, texts = VERDICTS[answer.verdict]
    yield Notice(f"Verdict: {title}", (texts, *_in_short(answer)))
    yield Notice("Dangers in this work", tuple(caution.message for caution in answer.cautions))


def _in_short(answer: PlanAnswer[float]) -> Iterator[str]:
    """Yield the summary: the reasons against the installation, and the flow of the chosen unit."""
    for reason in answer.reasons:
        if reason.severity != "check":
            yield reason_line(reason)
    for choice in answer.choices:
        if choice.chosen:
            symbol, sure = answer.units["choices.derated_flow"], choice.flow_lower_bound
            flow = measured(choice.derated_flow, symbol, "down")
            if sure is not None and answer.equipment[choice.number].method == "chamber":
                flow = f"{measured(sure, symbol, 'down')} if its water does not mix, {flow} at best,"
            elif sure is not None:
                flow = f"at least {measured(sure, symbol, 'down')}, at best {flow},"
            peak = measured(answer.peak_flow, answer.units["peak_flow"], "up")
            what = f"Unit {choice.number + 1} carries {flow} with this water, lamp age and sleeve."
            yield f"{what} The peak flow is {peak if answer.peak_flow is not None else 'not known'}."


def _reasons(answer: PlanAnswer[float]) -> Iterator[Block]:
    yield Heading("Reasons")
    if answer.reasons:
        rows = tuple(
            (
                SEVERITIES[one.severity],
                one.message,
                rounded(one.exceeds_limit_by, "up") if one.exceeds_limit_by else "–",
                _section(one.section),
            )
            for one in answer.reasons
        )
        yield Table("Reasons for the verdict", ("Severity", "Reason", "Limit missed by", "Section"), rows)
    else:
        yield Text("The values entered give no reason against the installation.")
    yield Heading("Missing information", 3)
    if answer.missing:
        rows = tuple((_section(gap.section), gap.not_assessed) for gap in answer.missing)
        yield Table("Missing sections and values; nothing was assumed for them", ("Section", "Not assessed"), rows)
    else:
        yield Text("Nothing is missing.")
    if answer.sensitivity:
        yield Heading("What would change the verdict", 3)
        yield from _turns(answer)


def _turns(answer: PlanAnswer[float]) -> Iterator[Block]:
    # For each input, the nearest threshold: the list has them in that order.
    first: dict[str, Any] = {}
    for turn in answer.sensitivity:
        if turn.threshold is not None and turn.verdict_beyond not in {None, answer.verdict}:
            first.setdefault(turn.input, turn)
    if not first:
        yield Text("No single input changes the verdict: there is more than one reason against the installation.")
        return
    rows = tuple(
        (_section(turn.input), *_now_and_turn(turn, answer.verdict), VERDICTS[turn.verdict_beyond][0])
        for turn in first.values()
    )
    caption = "One input changed at a time, all other reasons unchanged"
    yield Table(caption, ("Input", "Now", "Threshold", "Verdict beyond it"), rows)


def _now_and_turn(turn: Any, verdict: str) -> tuple[str, str]:
    """Return present value and threshold of an input; rounding never makes a threshold to worse look further away.

    A threshold to better is rounded away from the present value, for the same reason.
    """
    now, _, unit = turn.now.partition(" ")
    at = float(turn.threshold.partition(" ")[0])
    order: Any = safer_of(PlanAnswer)["verdict"]
    rises = at > float(now)
    worse = order.index(turn.verdict_beyond) > order.index(verdict)
    return measured(float(now), unit, None, 4), measured(at, unit, "down" if rises == worse else "up", 4)


def _section(name: str) -> str:
    first, *rest = name.replace("/", ".").split(".")
    if first == "equipment" and rest:
        return ", ".join([f"Unit {int(rest[0]) + 1}", *(in_words(part) for part in rest[1:])])
    return ", ".join(in_words(part) for part in (first, *rest))


def _warnings(answer: PlanAnswer[float]) -> Iterator[Block]:
    # A section inside another repeats its warnings, and some are reasons: show each once.
    texts = {reason.message for reason in answer.reasons}
    found: dict[str, str] = {}
    for warning in answer.warnings:
        if warning.message not in texts:
            found.setdefault(warning.message, _section(warning.field))
    if found:
        yield Heading("Warnings")
        rows = tuple((place, message) for message, place in found.items())
        yield Table("Warnings of the sections", ("Section", "Warning"), rows)


def _sources(answer: PlanAnswer[float]) -> Iterator[Block]:
    yield Heading("Sources")
    yield sources_table(_parts(answer))
    if answer.defaults:
        rows = tuple((part, "; ".join(values)) for part, values in _defaults(answer).items())
        yield Table("Assumed values", ("Section", "Values"), rows, small=True)
    yield Text(ROUNDING if answer.chlorination is None else f"{ROUNDING} {AMOUNTS}", small=True)


def _defaults(answer: PlanAnswer[float]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, text in answer.defaults.items():
        place = name.split(".")
        own = 2 if place[0] == "equipment" else 1
        texts = " ".join(in_words(one).lower() if not one.isdigit() else f"{int(one) + 1}" for one in place[own:])
        found.setdefault(_section(".".join(place[:own])), []).append(f"{texts} {text}")
    return found


def _parts(answer: PlanAnswer[float]) -> Iterator[Answer]:
    """Yield the answers of the plan and of its sections."""
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
    yield Heading("How to repeat this calculation")
    if answer.question is None:
        yield Text("The plan is too long for a web address. Keep the plan file: it gives this page again.")
    else:
        yield Text("Add this to the address of a Dosewright service to get the same answer:")
        yield Text(answer.question, small=True)
    yield Text(f"Calculated by Dosewright {answer.version}.", small=True)
