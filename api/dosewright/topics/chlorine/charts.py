"""Pictures of the chlorine topic."""

from collections.abc import Mapping

import numpy as np

from dosewright.engine.sentences import capitalised
from dosewright.present.picture.chart import Axis, Chart, Line, Mark, Values, with_unit
from dosewright.present.picture.curve_points import answers_over, unit_of
from dosewright.tables.chlorination import ChlorinationRule, chlorination_rules
from dosewright.topics.chlorine.contracts.chemistry import SpeciationAnswer
from dosewright.topics.chlorine.contracts.shock import ShockAnswer

__all__ = ["holding", "speciation"]

_HOUR = 3600.0
_LOWEST, _HIGHEST = 10.0, 2000.0  # of the view [mg/L]


def holding(answer: ShockAnswer[float]) -> Chart:
    """Hold time and concentration: the rule of the request, all other rules, and the values of the request."""
    rules = {name: rule for name, rule in chlorination_rules().items() if rule.hold_times is not None}
    # Without a rule in the request, the one whose title is in the answer.
    named = next((name for name, rule in rules.items() if rule.title == answer.rule), "none")
    unit = unit_of(answer, "free_chlorine", "concentration")
    milligrams = unit.to_si(answer.free_chlorine) * 1000.0
    highest = max(_HIGHEST, 1.2 * milligrams)
    lines, key, notes = _others(rules, named, highest)
    texts = f"No hold time is known for the rule {answer.rule}."
    if named in rules:
        x, y = _steps(rules[named], highest)
        lines.insert(0, Line(x, y, rules[named].title, "main"))
        texts = f"The bold line is the rule {answer.rule}."
    marks = list(notes)
    if answer.hold_time is not None:
        hours = unit_of(answer, "hold_time", "time").to_si(answer.hold_time) / _HOUR
        label = f"this plan: {with_unit(milligrams, 'mg/L')}, {with_unit(hours, 'h')}"
        marks.append(Mark(milligrams, hours, label))
        texts = f"{capitalised(label)}. {texts}"
    return Chart(
        title="Hold time and concentration by rule",
        description=f"{texts} {_span(rules)}",
        x=Axis("free chlorine", "mg/L", low=min(_LOWEST, 0.8 * milligrams), high=highest, logarithmic=True),
        y=Axis("hold time", "h", low=0.0),
        lines=tuple(lines),
        marks=tuple(marks),
        key=tuple(key),
    )


def _span(rules: Mapping[str, ChlorinationRule]) -> str:
    hours = [time / _HOUR for rule in rules.values() for time in rule.hold_times or ()]
    levels = [1000.0 * start for rule in rules.values() for start in rule.minimum_concentrations]
    return (
        f"{len(rules)} published rules require {with_unit(min(hours))} to {with_unit(max(hours), 'h')}, at "
        f"minimum free chlorine of {with_unit(min(levels))} to {with_unit(max(levels), 'mg/L')}."
    )


def _steps(rule: ChlorinationRule, highest: float) -> tuple[Values, Values]:
    """Return a rule as steps: each hold time from its concentration to the next, the last to the rule's maximum."""
    starts = [1000.0 * concentration for concentration in rule.minimum_concentrations]
    end = highest if rule.maximum_concentration is None else 1000.0 * rule.maximum_concentration
    edges = [*starts, max(end, starts[-1])]
    hours = [time / _HOUR for time in rule.hold_times or ()]
    x = np.repeat(edges, 2)[1:-1]
    return x, np.repeat(hours, 2)


def _others(
    rules: Mapping[str, ChlorinationRule], named: str, highest: float
) -> tuple[list[Line], list[str], list[Mark]]:
    """Return the other rules: thin lines with a number at their start, and the key to the numbers."""
    lines: list[Line] = []
    key: list[str] = []
    starts: dict[tuple[float, float], list[str]] = {}
    for name, rule in rules.items():
        if name == named:
            continue
        x, y = _steps(rule, highest)
        lines.append(Line(x, y, "" if lines else "other rules, numbered below", "faint"))
        number = str(len(key) + 1)
        key.append(f"{number}  {rule.title}{' (recalled)' if rule.recalled else ''}")
        starts.setdefault((float(x[0]), float(y[0])), []).append(number)
    marks = [Mark(x, y, ", ".join(numbers), "note") for (x, y), numbers in starts.items()]
    return lines, key, marks


def speciation(answer: SpeciationAnswer[float]) -> Chart:
    """Both forms of free chlorine at each pH, with the point of this water."""
    inputs = answer.inputs
    ph = np.linspace(5.0, 10.0, 101) if inputs["ph"] <= 10.0 else np.linspace(5.0, 14.0, 181)
    acid = 100.0 * answers_over("chlorine/speciation", inputs, "ph", ph, "hypochlorous_acid_share")
    here = 100.0 * unit_of(answer, "hypochlorous_acid_share", "share").to_si(answer.hypochlorous_acid_share)
    return Chart(
        title="Hypochlorous acid and pH",
        description=f"At pH {with_unit(inputs['ph'])}, {with_unit(here, '%')} of the free chlorine is hypochlorous "
        f"acid, which disinfects fast; the rest is hypochlorite ion. They are equal at pH {with_unit(answer.pka)}.",
        x=Axis("pH", low=5.0, high=float(ph[-1])),
        y=Axis("share of the free chlorine", "%", low=0.0, high=105.0),
        lines=(Line(ph, acid, "hypochlorous acid (HOCl)"), Line(ph, 100.0 - acid, "hypochlorite ion (OCl⁻)", "second")),
        marks=(Mark(inputs["ph"], here, f"this water: {with_unit(here, '%')}"),),
    )
