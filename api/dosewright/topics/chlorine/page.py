"""Pages of the chlorine topic: a procedure for the work, dangers and amounts first, then the checklist."""

from collections.abc import Iterator, Mapping
from itertools import groupby
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
from dosewright.tables.chlorination import chlorination_rules
from dosewright.topics.chlorine.contracts.chemistry import NeutraliseAnswer, SpeciationAnswer
from dosewright.topics.chlorine.contracts.contact_time import ContactAnswer, DeviationAnswer
from dosewright.topics.chlorine.contracts.emergency import EmergencyAnswer
from dosewright.topics.chlorine.contracts.hypochlorite import FeedAnswer, ProductAnswer
from dosewright.topics.chlorine.contracts.retest import RetestAnswer
from dosewright.topics.chlorine.contracts.shock import ShockAnswer

__all__ = ["SIDES", "TITLES", "chlorine_page"]

TITLES: Mapping[type[Answer], str] = {
    ShockAnswer: "Shock chlorination of a well and its plumbing",
    ContactAnswer: "Contact time for disinfection",
    DeviationAnswer: "CT regression compared with its table",
    EmergencyAnswer: "Emergency disinfection of water with bleach",
    FeedAnswer: "Hypochlorite feed",
    NeutraliseAnswer: "Neutralising chlorine",
    ProductAnswer: "Strength of a hypochlorite product",
    RetestAnswer: "Samples after a chlorination",
    SpeciationAnswer: "Hypochlorous acid in the water",
}
_FEW = 5  # columns of a table that fit on a page
SIDES: Mapping[str, Side] = {
    **dict.fromkeys(
        (
            "contact_time_to_meet", "ct_required", "ct_required_table", "dose", "earliest_clear", "first_sample_after",
            "flush_volume", "hold_time", "mass", "next_sample", "peak_concentration", "product_mass",
            "product_volume", "residual_to_meet", "sample_interval", "dilution", "chlorate", "chlorine_demand",
            "bleach_volume", "boil_time", "wait_time", "repeat_wait_time",
        ),
        "up",
    ),
    **dict.fromkeys(
        (
            "available_chlorine", "chlorine_concentration", "contact_time", "ct_achieved", "deviation_from_table",
            "flow_to_meet", "inactivation_ratio", "log_inactivation_achieved", "residence_time", "sodium_hypochlorite",
            "law_remaining_strength", "remaining_strength", "table_remaining_strength", "tank_duration",
            "trade_strength",
        ),
        "down",
    ),
}  # fmt: skip
"""Rounding sides of the values of the chlorine topic; others are rounded to the nearest."""

_SOLVED: Mapping[str, Mapping[str, Side]] = {
    "residual": {"residual": "up"},
    "flow": {"flow": "down"},
    "volume": {"volume": "up"},
    "contact_time": {"contact_time": "up"},
}
_STATUS = {"found": "read", "memory": "recalled"}
# The stage whose product a step uses.
_STAGE = {"slurry_well": "well", "slurry_plumbing": "plumbing", "pour_vessels": "plumbing"}


def chlorine_page(answer: Answer) -> Page:
    """Return the page of an answer of the topic, with every caution.

    Raises
    ------
    KeyError
        The answer is not of this topic.
    """
    title = TITLES[type(answer)]
    shock = isinstance(answer, ShockAnswer)
    parts = [*_procedure(cast("ShockAnswer[float]", answer))] if shock else [*_results(answer)]
    ends = (*_warnings(answer), *_required_rules(answer), *_sources(answer), *_again(answer))
    return Page(title, (*_dangers(answer), *parts, *ends))


def _dangers(answer: Answer) -> Iterator[Block]:
    yield Notice("Dangers in this work", tuple(caution.message for caution in answer.cautions))


def _sides(answer: Answer) -> Mapping[str, Side]:
    """Return the rounding side of each value; a value solved for is one to be reached."""
    solved = answer.solved_for if isinstance(answer, ContactAnswer) else ""
    return {**SIDES, **_SOLVED.get(solved, {})}


def _procedure(answer: ShockAnswer[float]) -> Iterator[Block]:
    units = answer.units
    yield Heading("Amounts to measure out")
    rows = tuple(
        (
            {"well": "First: for the well", "plumbing": "Second: for the house"}[stage.stage],
            _product(stage),
            amount(stage.dilution_water, units["stages.dilution_water"]),
            amount(stage.volume, units["stages.volume"]),
        )
        for stage in answer.stages
    )
    yield Table("Product by stage", ("Stage", "Product", "Mix into", "Water treated"), rows)
    rows = tuple(
        (in_words(one.system), one.measure, amount(one.free_chlorine, units["measures.free_chlorine"]))
        for one in answer.measures
    )
    yield Table("Total product, both stages together", ("Measures", "Product", "Gives free chlorine"), rows)
    yield Text(_neutraliser(answer))
    yield Heading("Steps")
    titles = {row["step"]: row["title"] for row in table("chlorination_steps").rows}
    yield Checklist(tuple(Check(titles[step.step], tuple(_step(step, answer))) for step in answer.steps))
    yield Heading("Numbers", 3)
    yield from _values(answer, "Values of the calculation")
    rows = tuple((in_words(one.kind), amount(one.volume, units["vessels.volume"])) for one in answer.vessels)
    yield Table("Water dosed", ("Vessel", "Holds"), rows)
    head = ("Rule", "Free chlorine and hold", "Source; or why it counts")
    yield Table("Published rules", head, tuple(_rules(answer)), small=True)
    yield Heading("Before anyone drinks the water, and where to discharge it")
    yield from _values(answer.retest, "Sampling after the flush", units, "retest.")
    yield from _values(answer.discharge, "Water to discharge", units, "discharge.")
    rows = tuple((in_words(place.place), place.reason) for place in answer.no_discharge_places)
    yield Table("Where chlorinated water must not go", ("Place", "Reason"), rows)
    yield Heading("Record", 3)
    yield Lines(("Done by, date, start and end of the hold, chlorine at both",
                 "First sample: date, laboratory, result", "Second sample: date, laboratory, result"))  # fmt: skip


def _rules(answer: ShockAnswer[float]) -> Iterator[tuple[str, ...]]:
    """Yield a row a rule, with its steps in one line."""
    units = answer.units
    for _, found in groupby(answer.rules, key=lambda one: one.rule):
        steps = list(found)
        requires = "; ".join(
            f"{amount(one.free_chlorine, units['rules.free_chlorine'])} "
            + ("(hold not seen)" if one.hold_time is None else amount(one.hold_time, units["rules.hold_time"]))
            for one in steps
        )
        counted = f"Decides. {steps[0].reason}" if any(one.decides for one in steps) else steps[0].source
        yield chlorination_rules()[steps[0].rule].title, requires, counted


def _product(stage: Any) -> str:
    return f"{stage.metric}, or {stage.customary}"


def _neutraliser(answer: ShockAnswer[float]) -> str:
    agent, units = answer.neutraliser, answer.units
    shown = amount(agent.mass, units["neutraliser.mass"], "up")
    ends = [
        amount(agent.minimum_stoichiometric_mass, units["neutraliser.minimum_stoichiometric_mass"], "up"),
        amount(agent.maximum_stoichiometric_mass, units["neutraliser.maximum_stoichiometric_mass"], "up"),
    ]
    span = " to ".join(dict.fromkeys(ends))
    return f"To neutralise all of it afterwards: {shown} of {agent.agent}. By its reactions: {span}."


def _step(step: Any, answer: ShockAnswer[float]) -> Iterator[str]:
    units, name = answer.units, step.step
    yield step.action
    texts: list[str] = []
    if name in _STAGE:
        texts += [f"Product: {_product(stage)}." for stage in answer.stages if stage.stage == _STAGE[name]]
    if step.volume is not None:
        what, side = ("Vinegar", None) if name == "vinegar" else ("Water", SIDES["flush_volume"])
        texts.append(f"{what}: {amount(step.volume, units['steps.volume'], side)}.")
    if name == "neutralise":
        weighed = amount(answer.neutraliser.mass, units["neutraliser.mass"], "up")
        texts.append(f"{in_words(answer.neutraliser.agent)} for all of it: {weighed}.")
    if step.duration is not None:
        texts.append(f"Time: {amount(step.duration, units['steps.duration'], 'up')}.")
    if texts:
        yield " ".join(texts)


def _results(answer: Answer) -> Iterator[Block]:
    """Yield the values, parts and lists of an answer as tables."""
    yield Heading("Results")
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
    """Yield a list as tables that fit on a page; the first column names the row."""
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
    texts: list[str] = []
    for part in path.split("."):
        if part.isdigit() and texts:
            texts[-1] = f"{texts[-1].removesuffix('s')} {int(part) + 1}"
        else:
            texts.append(in_words(part))
    return ", ".join([texts[0], *(one if one.startswith(_KEPT) else one[:1].lower() + one[1:] for one in texts[1:])])


_KEPT = ("pH", "pK", "CT", "US")


def _warnings(answer: Answer) -> Iterator[Block]:
    if answer.warnings:
        yield Heading("Warnings")
        rows = tuple((_place(one.field), one.message) for one in answer.warnings)
        yield Table("Warnings of this calculation", ("Field", "Warning"), rows)


def _required_rules(answer: Answer) -> Iterator[Block]:
    """Yield the inputs as entered, from the address that repeats the calculation."""
    if answer.question is None:
        return
    given = parse_qsl(answer.question.partition("?")[2])
    names = [name for name, _ in given]
    # Items of a list repeat their name, and are numbered as in the warnings.
    places = [f"{name}.{names[:at].count(name)}" if names.count(name) > 1 else name for at, name in enumerate(names)]
    rows = tuple(
        (_place(place), value.replace(";", "; ").replace("_", " ").replace(":", " "))
        for place, (_, value) in zip(places, given, strict=True)
    )
    yield Heading("Inputs")
    yield Table("Values as entered", ("Input", "Value"), rows, small=True)


def _sources(answer: Answer) -> Iterator[Block]:
    yield Heading("Sources")
    yield sources_table([answer])
    if answer.defaults:
        rows = tuple((_place(name), text.replace("_", " ")) for name, text in answer.defaults.items())
        yield Table("Assumed values", ("Input", "Value"), rows, small=True)
    yield Text(f"{ROUNDING} {AMOUNTS}", small=True)


def _again(answer: Answer) -> Iterator[Block]:
    texts = f"Calculated by Dosewright {answer.version}."
    if answer.question is None:
        yield Text(texts, small=True)
        return
    yield Text(f"{texts} Add this to the address of a Dosewright service to get the same answer:", small=True)
    yield Text(answer.question, small=True)
