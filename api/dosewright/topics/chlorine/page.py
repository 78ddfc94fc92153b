"""Pages of the chlorine topic: a procedure to take along, amounts and dangers first, then steps to tick off."""

from collections.abc import Iterator, Mapping
from typing import Any, cast
from urllib.parse import parse_qsl

import msgspec

from dosewright.engine.base import Answer
from dosewright.engine.writing import AnswerField, answer_fields
from dosewright.present.answer_tables import sources_table, values_table
from dosewright.present.blocks import Block, Check, Checklist, Heading, Lines, Notice, Page, Table, Text
from dosewright.present.rounding import AMOUNTS, ROUNDING, Side, amount
from dosewright.present.wording import in_words
from dosewright.tables import table
from dosewright.topics.chlorine.contracts.batch import BatchDoseAnswer
from dosewright.topics.chlorine.contracts.chemistry import NeutraliseAnswer, SpeciationAnswer
from dosewright.topics.chlorine.contracts.contact_time import ContactAnswer, DeviationAnswer
from dosewright.topics.chlorine.contracts.emergency import EmergencyAnswer
from dosewright.topics.chlorine.contracts.hypochlorite import FeedAnswer, ProductAnswer
from dosewright.topics.chlorine.contracts.retest import RetestAnswer

__all__ = ["SIDES", "TITLES", "chlorine_page"]

TITLES: Mapping[type[Answer], str] = {
    BatchDoseAnswer: "Chlorinating a well and its plumbing",
    ContactAnswer: "Contact time of a disinfected water",
    DeviationAnswer: "A CT regression against its table",
    EmergencyAnswer: "Making water safer with bleach in an emergency",
    FeedAnswer: "Feeding hypochlorite",
    NeutraliseAnswer: "Neutralising chlorine",
    ProductAnswer: "Strength of a hypochlorite product",
    RetestAnswer: "Samples after a chlorination",
    SpeciationAnswer: "Hypochlorous acid in the water",
}
_FEW = 5  # columns of a table that a page is wide enough for
SIDES: Mapping[str, Side] = {
    **dict.fromkeys(
        (
            "contact_time_to_meet", "ct_required", "ct_required_table", "dose", "earliest_clear", "first_sample_after",
            "flush_volume", "hold_time", "mass", "next_sample_after", "peak_concentration", "product_mass",
            "product_volume", "residual_to_meet", "samples_apart", "dilution", "chlorate", "chlorine_demand",
            "bleach_volume", "boil_time", "wait_time", "repeat_wait_time",
        ),
        "up",
    ),
    **dict.fromkeys(
        (
            "available_chlorine", "chlorine_concentration", "contact_time", "ct_achieved", "deviation_from_table",
            "flow_to_meet", "inactivation_ratio", "log_inactivation_achieved", "residence_time", "sodium_hypochlorite",
            "law_strength_left", "strength_left", "table_strength_left", "tank_lasts", "trade_strength",
        ),
        "down",
    ),
}  # fmt: skip
"""Sides that the values of the chlorine topic are rounded to; the others are rounded to the nearest."""

_SOLVED: Mapping[str, Mapping[str, Side]] = {
    "residual": {"residual": "up"},
    "flow": {"flow": "down"},
    "volume": {"volume": "up"},
    "contact_time": {"contact_time": "up"},
}
_STATUS = {"found": "read", "memory": "recalled"}
# The stage whose product a step takes.
_STAGE = {"slurry_well": "well", "slurry_plumbing": "plumbing", "pour_vessels": "plumbing"}


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


def _sides(answer: Answer) -> Mapping[str, Side]:
    """Return the side that each value is rounded to; a value that was solved is one to be reached."""
    solved = answer.solved if isinstance(answer, ContactAnswer) else ""
    return {**SIDES, **_SOLVED.get(solved, {})}


def _procedure(answer: BatchDoseAnswer[float]) -> Iterator[Block]:
    units = answer.units
    yield Heading("What to measure out")
    rows = tuple(
        (
            {"well": "First: into the well", "plumbing": "Second: for what the house draws"}[stage.stage],
            _product(stage),
            amount(stage.slurry_water, units["stages.slurry_water"]),
            amount(stage.volume, units["stages.volume"]),
        )
        for stage in answer.stages
    )
    yield Table("The product, stage by stage", ("Stage", "Product", "Mixed into", "For water"), rows)
    rows = tuple(
        (in_words(one.system), one.measure, amount(one.free_chlorine, units["measures.free_chlorine"]))
        for one in answer.measures
    )
    yield Table("The same in one go", ("Measures", "Product", "Gives free chlorine"), rows)
    yield Text(_neutraliser(answer))
    yield Heading("Steps")
    titles = {row["step"]: row["title"] for row in table("chlorination_steps").rows}
    yield Checklist(tuple(Check(titles[step.step], tuple(_step(step, answer))) for step in answer.steps))
    yield Heading("In numbers", 3)
    yield from _values(answer, "What it rests on, and what it gives")
    rows = tuple((in_words(one.kind), amount(one.volume, units["vessels.volume"])) for one in answer.vessels)
    yield Table("Water dosed", ("Vessel", "Holds"), rows)
    yield Heading("Before the water is drunk, and where it may go")
    yield from _values(answer.retest, "Sampling after the flush", units, "retest.")
    yield from _values(answer.discharge, "What is let go", units, "discharge.")
    rows = tuple((in_words(place.place), place.why) for place in answer.keep_out)
    yield Table("Where it must not go", ("Place", "Why"), rows)
    yield Heading("Record", 3)
    yield Lines(("Done by, date, start and end of the hold, chlorine at both",
                 "First sample: date, laboratory, result", "Second sample: date, laboratory, result"))  # fmt: skip


def _product(stage: Any) -> str:
    return f"{stage.metric}, or {stage.customary}"


def _neutraliser(answer: BatchDoseAnswer[float]) -> str:
    agent, units = answer.neutraliser, answer.units
    shown = amount(agent.mass, units["neutraliser.mass"], "up")
    ends = [
        amount(agent.least_stoichiometric_mass, units["neutraliser.least_stoichiometric_mass"], "up"),
        amount(agent.most_stoichiometric_mass, units["neutraliser.most_stoichiometric_mass"], "up"),
    ]
    span = " to ".join(dict.fromkeys(ends))
    return f"To neutralise it all afterwards: {shown} of {agent.agent}; by its reactions {span}."


def _step(step: Any, answer: BatchDoseAnswer[float]) -> Iterator[str]:
    units, name = answer.units, step.step
    yield step.does
    told: list[str] = []
    if name in _STAGE:
        told += [f"Product: {_product(stage)}." for stage in answer.stages if stage.stage == _STAGE[name]]
    if step.volume is not None:
        what, side = ("Vinegar", None) if name == "vinegar" else ("Water", SIDES["flush_volume"])
        told.append(f"{what}: {amount(step.volume, units['steps.volume'], side)}.")
    if name == "neutralise":
        weighed = amount(answer.neutraliser.mass, units["neutraliser.mass"], "up")
        told.append(f"{in_words(answer.neutraliser.agent)} for all of it: {weighed}.")
    if step.duration is not None:
        told.append(f"Time: {amount(step.duration, units['steps.duration'], 'up')}.")
    if told:
        yield " ".join(told)


def _results(answer: Answer) -> Iterator[Block]:
    """Yield an answer's own values, its parts, and its lists as tables."""
    yield Heading("Answer")
    yield from _values(answer, "Values")
    sides = _sides(answer)
    for field in answer_fields(type(answer)):
        value = getattr(answer, field.name)
        if field.struct is None or value is None:
            continue
        if field.many:
            units = {name.rpartition(".")[2]: unit for name, unit in answer.units.items()
                     if name.rpartition(".")[0] == field.name}  # fmt: skip
            yield from _listed(cast("list[msgspec.Struct]", value), field.doc, units, sides)
        else:
            yield from _values(value, field.doc, answer.units, f"{field.name}.")


def _values(
    answer: msgspec.Struct, caption: str, units: Mapping[str, str] | None = None, at: str = ""
) -> Iterator[Block]:
    sides = _sides(answer) if isinstance(answer, Answer) else SIDES

    def shown(field: AnswerField, value: Any, unit: str) -> str | None:
        return None if field.struct is not None or value is None else _shown(field.name, value, unit, sides)

    yield from values_table(answer, caption, shown, units, at)


def _shown(name: str, value: Any, unit: str, sides: Mapping[str, Side]) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return amount(value, unit, sides.get(name))
    return _STATUS.get(value, str(value).replace("_", " "))


def _listed(
    items: list[msgspec.Struct], caption: str, units: Mapping[str, str], sides: Mapping[str, Side]
) -> Iterator[Block]:
    """Yield a list as tables no wider than a page, the first column of each naming the row."""
    if not items:
        return
    names = [field.name for field in answer_fields(type(items[0]))]
    names = [one for one in names if any(getattr(item, one) is not None for item in items)]
    first, rest = names[0], names[1:]
    for start in range(0, max(len(rest), 1), _FEW):
        part = (first, *rest[start : start + _FEW])
        rows = tuple(
            (f"{number}. {shown[0]}", *shown[1:])
            for number, item in enumerate(items, 1)
            for shown in [[_shown(one, getattr(item, one), units.get(one, ""), sides) for one in part]]
        )
        yield Table(caption.replace("_", " "), tuple(in_words(one) for one in part), rows)


def _place(path: str) -> str:
    """Return a place in a request or answer as words: ``vessels.1.tank`` is ``Vessel 2, tank``."""
    told: list[str] = []
    for part in path.split("."):
        if part.isdigit() and told:
            told[-1] = f"{told[-1].removesuffix('s')} {int(part) + 1}"
        else:
            told.append(in_words(part))
    return ", ".join([told[0], *(one if one.startswith(_KEPT) else one[:1].lower() + one[1:] for one in told[1:])])


_KEPT = ("pH", "pK", "CT", "US")


def _warnings(answer: Answer) -> Iterator[Block]:
    if answer.warnings:
        yield Heading("To look at")
        rows = tuple((_place(one.field), one.message) for one in answer.warnings)
        yield Table("Warnings", ("Of", "Warning"), rows)


def _asked(answer: Answer) -> Iterator[Block]:
    """Yield what was asked, as it was written, from the address that asks it again."""
    if answer.question is None:
        return
    given = parse_qsl(answer.question.partition("?")[2])
    names = [name for name, _ in given]
    # Items of a list repeat their name, and are numbered as the warnings number them.
    places = [f"{name}.{names[:at].count(name)}" if names.count(name) > 1 else name for at, name in enumerate(names)]
    rows = tuple(
        (_place(place), value.replace(";", "; ").replace("_", " ").replace(":", " "))
        for place, (_, value) in zip(places, given, strict=True)
    )
    yield Heading("What was asked")
    yield Table("As it was given", ("Input", "Value"), rows, small=True)


def _sources(answer: Answer) -> Iterator[Block]:
    yield Heading("Sources")
    yield sources_table([answer])
    if answer.defaults:
        rows = tuple((_place(name), text.replace("_", " ")) for name, text in answer.defaults.items())
        yield Table("Usual values used where nothing was given", ("Input", "Value used"), rows, small=True)
    yield Text(f"{ROUNDING} {AMOUNTS}", small=True)


def _again(answer: Answer) -> Iterator[Block]:
    told = f"Calculated by Dosewright {answer.version}."
    if answer.question is None:
        yield Text(told, small=True)
        return
    yield Text(f"{told} This address, behind that of a service, gives the same answer again:", small=True)
    yield Text(answer.question, small=True)
