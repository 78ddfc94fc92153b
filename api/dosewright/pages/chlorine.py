"""Pages of the chlorine topic: a procedure to take along, amounts and dangers first, then steps to tick off."""

from collections.abc import Iterator, Mapping
from typing import Any, cast
from urllib.parse import parse_qsl

import msgspec

from dosewright.contracts.base import Answer
from dosewright.contracts.chlorine import BatchDoseAnswer
from dosewright.contracts.chlorine_chemistry import NeutraliseAnswer, SpeciationAnswer
from dosewright.contracts.contact_time import ContactAnswer, DeviationAnswer
from dosewright.contracts.hypochlorite import FeedAnswer, ProductAnswer
from dosewright.contracts.retest import RetestAnswer
from dosewright.contracts.writing import answer_fields
from dosewright.pages.blocks import Block, Check, Checklist, Heading, Lines, Notice, Page, Table, Text
from dosewright.pages.wording import ROUNDING, duration, in_words, measured

__all__ = ["TITLES", "chlorine_page"]

TITLES: Mapping[type[Answer], str] = {
    BatchDoseAnswer: "Chlorinating a well and its plumbing",
    ContactAnswer: "Contact time of a disinfected water",
    DeviationAnswer: "A CT regression against its table",
    FeedAnswer: "Feeding hypochlorite",
    NeutraliseAnswer: "Neutralising chlorine",
    ProductAnswer: "Strength of a hypochlorite product",
    RetestAnswer: "Samples after a chlorination",
    SpeciationAnswer: "Hypochlorous acid in the water",
}
_FEW = 5  # columns of a table that a page is wide enough for


def chlorine_page(answer: Answer) -> Page:
    """Return the page of an answer of the topic; every caution of it is on it.

    Raises
    ------
    KeyError
        The answer is not of this topic.
    """
    title = TITLES[type(answer)]
    batch = isinstance(answer, BatchDoseAnswer)
    parts = [*_procedure(cast("BatchDoseAnswer[float]", answer))] if batch else [*_results(answer)]
    ends = (*_warnings(answer), *_asked(answer), *_sources(answer), *_again(answer))
    return Page(title, (*_dangers(answer), *parts, *ends))


def _dangers(answer: Answer) -> Iterator[Block]:
    yield Notice("Dangers in this work", tuple(caution.message for caution in answer.cautions))


def _procedure(answer: BatchDoseAnswer[float]) -> Iterator[Block]:
    units = answer.units
    yield Heading("What to measure out")
    rows = tuple(
        (
            {"well": "First: into the well", "plumbing": "Second: for what the house draws"}[stage.stage],
            f"{stage.metric}, or {stage.customary}",
            measured(stage.slurry_water, units["stages.slurry_water"]),
            measured(stage.volume, units["stages.volume"]),
        )
        for stage in answer.stages
    )
    yield Table("The product, stage by stage", ("Stage", "Product", "Mixed into", "For water"), rows)
    rows = tuple(
        (in_words(one.system), one.measure, measured(one.free_chlorine, units["measures.free_chlorine"]))
        for one in answer.measures
    )
    yield Table("The same in one go", ("Measures", "Product", "Gives free chlorine"), rows)
    yield Text(_neutraliser(answer))
    yield Heading("Steps")
    yield Checklist(tuple(Check(in_words(step.step), tuple(_step(step, units))) for step in answer.steps))
    yield from _values(answer, "In numbers")
    rows = tuple((in_words(one.kind), measured(one.volume, units["vessels.volume"])) for one in answer.vessels)
    yield Table("Water dosed", ("Vessel", "Holds"), rows)
    yield Heading("Before the water is drunk, and where it may go")
    yield from _values(answer.retest, "Sampling after the flush", units, "retest.")
    yield from _values(answer.discharge, "What is let go", units, "discharge.")
    rows = tuple((in_words(place.place), place.why) for place in answer.keep_out)
    yield Table("Where it must not go", ("Place", "Why"), rows)
    yield Lines(("Done by, date, start and end of the hold, chlorine at both",
                 "First sample: date, laboratory, result", "Second sample: date, laboratory, result"))  # fmt: skip


def _taken(step: str) -> str:
    return "Vinegar" if step == "vinegar" else "Water"


def _neutraliser(answer: BatchDoseAnswer[float]) -> str:
    agent, units = answer.neutraliser, answer.units
    shown = measured(agent.mass, units["neutraliser.mass"])
    ends = [
        measured(agent.least_stoichiometric_mass, units["neutraliser.least_stoichiometric_mass"]),
        measured(agent.most_stoichiometric_mass, units["neutraliser.most_stoichiometric_mass"]),
    ]
    span = " to ".join(dict.fromkeys(ends))
    return f"To neutralise it all afterwards: {shown} of {agent.agent}; by its reactions {span}."


def _step(step: Any, units: Mapping[str, str]) -> Iterator[str]:
    yield step.does
    told = [
        shown
        for shown in (
            None if step.volume is None else f"{_taken(step.step)}: {measured(step.volume, units['steps.volume'])}.",
            None if step.duration is None else f"Time: {duration(step.duration, units['steps.duration'])}.",
        )
        if shown
    ]
    if told:
        yield " ".join(told)


def _results(answer: Answer) -> Iterator[Block]:
    """Yield an answer's own values, its parts, and its lists as tables."""
    yield Heading("Answer")
    yield from _values(answer, "Values")
    for field in answer_fields(type(answer)):
        value = getattr(answer, field.name)
        if field.struct is None or value is None:
            continue
        if field.many:
            yield from _listed(cast("list[msgspec.Struct]", value), field.name, field.doc, answer.units)
        else:
            yield from _values(value, field.doc, answer.units, f"{field.name}.")


def _values(
    answer: msgspec.Struct, caption: str, units: Mapping[str, str] | None = None, at: str = ""
) -> Iterator[Block]:
    symbols = answer.units if isinstance(answer, Answer) else units or {}
    rows: list[tuple[str, ...]] = []
    for field in answer_fields(type(answer)):
        value = getattr(answer, field.name)
        if field.struct is None and value is not None:
            rows.append((in_words(field.name), _shown(value, symbols.get(at + field.name, "")), field.doc))
    if rows:
        yield Table(caption, ("Value", "Amount", "What it is"), tuple(rows))


def _shown(value: Any, unit: str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return duration(value, unit) if isinstance(value, float) else str(value).replace("_", " ")


def _listed(items: list[msgspec.Struct], name: str, caption: str, units: Mapping[str, str]) -> Iterator[Block]:
    """Yield a list as tables no wider than a page, the first column of each naming the row."""
    if not items:
        return
    names = [field.name for field in answer_fields(type(items[0]))]
    names = [one for one in names if any(getattr(item, one) is not None for item in items)]
    first, rest = names[0], names[1:]
    for start in range(0, max(len(rest), 1), _FEW):
        part = rest[start : start + _FEW]
        rows = tuple(
            (
                f"{number}. {_shown(getattr(item, first), units.get(f'{name}.{first}', ''))}",
                *(_shown(getattr(item, one), units.get(f"{name}.{one}", "")) if getattr(item, one) is not None else "–"
                  for one in part),
            )
            for number, item in enumerate(items, 1)
        )  # fmt: skip
        yield Table(caption, (in_words(first), *(in_words(one) for one in part)), rows)


def _warnings(answer: Answer) -> Iterator[Block]:
    if answer.warnings:
        yield Heading("To look at")
        rows = tuple((in_words(one.field.rpartition(".")[2]), one.message) for one in answer.warnings)
        yield Table("Warnings", ("Of", "Warning"), rows)


def _asked(answer: Answer) -> Iterator[Block]:
    """Yield what was asked, as it was written, from the address that asks it again."""
    if answer.question is None:
        return
    given = parse_qsl(answer.question.partition("?")[2])
    rows = tuple(
        (in_words(name), value.replace(";", "; ").replace("_", " ").replace(":", " ")) for name, value in given
    )
    yield Heading("What was asked")
    yield Table("As it was given", ("Input", "Value"), rows)


def _sources(answer: Answer) -> Iterator[Block]:
    yield Heading("Sources")
    rows = tuple(dict.fromkeys((basis.method, basis.source, basis.validity) for basis in answer.basis))
    yield Table("Methods, where they are published, and where they hold", ("Method", "Source", "Holds for"), rows)
    if answer.defaults:
        rows = tuple((in_words(name.replace(".", " ")), text) for name, text in answer.defaults.items())
        yield Table("Usual values used where nothing was given", ("Input", "Value used"), rows)
    yield Text(ROUNDING, small=True)


def _again(answer: Answer) -> Iterator[Block]:
    if answer.question is not None:
        yield Text("This address, behind that of a service, gives the same answer again:", small=True)
        # It has no spaces, so it is told where a line may break.
        yield Text(answer.question.replace("&", "&\u200b").replace(";", ";\u200b"), small=True)
    yield Text(f"Calculated by Dosewright {answer.version}.", small=True)
