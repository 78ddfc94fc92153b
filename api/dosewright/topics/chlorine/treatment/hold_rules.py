"""Concentration and hold time from a published rule, or from the request."""

from functools import cache
from typing import Any, NamedTuple, TypeAlias, cast

import numpy as np

from dosewright.core.constants import ROUNDING
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import ChlorinationRule, chlorination_rules
from dosewright.topics.chlorine.contracts.hold_rules import PublishedRule, RuleUse
from dosewright.topics.chlorine.contracts.shock import ShockRequest

__all__ = ["Hold", "check_rule", "hold_of", "rules_for", "strictest_rule", "warn_concentration"]

# A concentration this little below a rule's minimum is the rounding of a unit conversion.

_COLD_RULE, _COLD = "awwa_c651_tablet_cold", 278.15  # K, 5 degC
_HIGHEST_OF = "ontario_903"  # its maximum is used for rules that state none


Step: TypeAlias = tuple[str, ChlorinationRule, int]  # a rule's name, the rule, and the number of the step


class Hold(NamedTuple):
    """Target concentration and hold time.

    Attributes
    ----------
    free_chlorine : float or array
        Target free chlorine [kg/m³].
    time : float, array or None
        Hold time [s].
    rule : str
        Title of the rule.
    """

    free_chlorine: Numbers
    time: Numbers | None
    rule: str


def _rule(ask: ShockRequest[Numbers]) -> ChlorinationRule | None:
    if ask.rule is None:
        return strictest_rule()
    return None if ask.rule == "none" else chlorination_rules()[ask.rule]


@cache
def strictest_rule() -> ChlorinationRule:
    """Return the rule for wells, read and not recalled, with the longest hold time and then the strongest solution."""
    known = [
        rule
        for rule in chlorination_rules().values()
        if rule.hold_times is not None and not rule.recalled and rule.use == "wells"
    ]
    return max(known, key=lambda rule: (max(rule.hold_times or (0.0,)), rule.minimum_concentrations[0]))


def check_rule(ask: ShockRequest[Numbers], notes: Notes) -> None:
    """Reject a concentration below the rule, and a request with neither rule nor concentration."""
    rule = _rule(ask)
    if rule is None:
        if ask.free_chlorine is None:
            message = "Without a rule, a target concentration is required. Enter free_chlorine."
            notes.refuse("required", "free_chlorine", message)
        return
    if ask.free_chlorine is None or ask.rule is None:
        return
    least = rule.minimum_concentrations[0]
    message = (
        f"{rule.title} requires at least {least * 1000.0:g} mg/L. Raise free_chlorine, choose another rule, or choose "
        "rule none and enter hold_time."
    )
    below = ask.free_chlorine < least * (1.0 - ROUNDING)
    notes.refuse("below_rule", "free_chlorine", message, when=below, allowed=f"at least {least * 1000.0:g} mg/L")


def hold_of(ask: ShockRequest[Numbers], notes: Notes) -> Hold:
    """Return free chlorine and hold time, and add their basis."""
    rule = _rule(ask)
    if rule is None:
        if ask.free_chlorine is None:
            raise ValueError("a concentration or a rule is needed")
        return Hold(ask.free_chlorine, _assumed(ask, "No rule is chosen", notes), "none")
    free_chlorine = rule.minimum_concentrations[0] if ask.free_chlorine is None else ask.free_chlorine
    notes.add_basis(
        Basis(
            method="hold time of the highest concentration in the rule that is reached, not interpolated",
            source=f"{rule.source}{' [partly from memory]' if rule.recalled else ''}",
            validity=f"{rule.applies_to}, where this rule is law; elsewhere a published example",
        )
    )
    if ask.rule is None:
        message = (
            f"No local rule is chosen, so the strictest published rule is used: {rule.title}. Ask the local health "
            "authority which rule is law, and choose it."
        )
        notes.warn("no_local_rule", "rule", message)
    if rule.recalled:
        message = "A figure of this rule is recalled, not read. Look it up before relying on it."
        notes.warn("rule_from_memory", "rule", message)
    if rule.differs:
        notes.warn("rule_differs", "rule", rule.differs)
    return Hold(free_chlorine, _time(ask, rule, free_chlorine, notes), rule.title)


def _time(ask: ShockRequest[Numbers], rule: ChlorinationRule, free_chlorine: Numbers, notes: Notes) -> Numbers | None:
    if rule.hold_times is None:
        return _assumed(ask, "No hold time is known for this rule", notes)
    ruled = np.array(rule.hold_times)[_step_of(rule, free_chlorine)]
    if ask.rule is None:
        message = (
            f"Free chlorine is below the {rule.minimum_concentrations[0] * 1e3:g} mg/L of {rule.title}, the strictest "
            "rule. Raise free_chlorine, unless the local law requires less."
        )
        below = free_chlorine < rule.minimum_concentrations[0] * (1.0 - ROUNDING)
        notes.warn("below_strictest_rule", "free_chlorine", message, when=below)
    if rule.use == "mains":
        ruled = _cold_hold(ask.water_temperature, ruled, notes)
    if ask.hold_time is None:
        return ruled
    message = "The hold time entered is shorter than the hold time of the rule. Hold longer."
    notes.warn("hold_time_below_rule", "hold_time", message, when=ask.hold_time < ruled * (1.0 - ROUNDING))
    return ask.hold_time


def _step_of(rule: ChlorinationRule, free_chlorine: Numbers) -> Any:
    """Return the number of the rule's step that a concentration reaches."""
    steps = np.array(rule.minimum_concentrations) * (1.0 - ROUNDING)
    return np.maximum(np.searchsorted(steps, free_chlorine, side="right") - 1, 0)


def _cold_hold(temperature: Numbers, ruled: Numbers, notes: Notes) -> Numbers:
    """Return the hold time of a mains rule, in cold water at least the one published for cold mains."""
    published = chlorination_rules()[_COLD_RULE]
    longer = max(published.hold_times or (0.0,))
    longer_needed = np.logical_and(temperature < _COLD, ruled < longer * (1.0 - ROUNDING))
    message = (
        f"The water is below 5 degC: hold mains for {longer / 3600:g} h ({published.source}). The source states this "
        "for tablets; here it is used for every method, on the safe side."
    )
    notes.warn("cold_water_hold_longer", "water_temperature", message, when=longer_needed[()])
    return np.where(longer_needed, longer, ruled)[()]


def _assumed(ask: ShockRequest[Numbers], why: str, notes: Notes) -> Numbers:
    """Return the hold time entered, or the longest of a published rule."""
    if ask.hold_time is not None:
        return ask.hold_time
    strictest = strictest_rule()
    longest = max(strictest.hold_times or (0.0,))
    message = (
        f"{why}, so the longest hold time of a published rule is used: {longest / 3600:g} h ({strictest.title}). Ask "
        "the local health authority, and enter hold_time."
    )
    notes.warn("hold_time_assumed", "hold_time", message)
    return longest


def warn_concentration(ask: ShockRequest[Numbers], highest: Numbers, notes: Notes) -> None:
    """Compare the highest measured dose and the residual with the rule."""
    rule = _rule(ask)
    if rule is not None and rule.maximum_concentration is not None:
        message = (
            f"A rounded amount gives more chlorine than the rule's maximum of {rule.maximum_concentration * 1e3:g} "
            "mg/L. Measure more exactly, or lower free_chlorine."
        )
        over = highest > rule.maximum_concentration * (1.0 + ROUNDING)
        notes.warn("over_rule_maximum", "measures.dose", message, when=over)
    else:
        usual = chlorination_rules()[_HIGHEST_OF]
        if usual.maximum_concentration is None:
            raise ValueError("the rule for the usual maximum has none")
        message = (
            f"The dose is above {usual.maximum_concentration * 1000.0:g} mg/L, the maximum of {usual.source}. A "
            "stronger solution raises the pH, which slows disinfection, and attacks metal, rubber and seals."
        )
        notes.warn("high_concentration", "measures.dose", message, when=highest > usual.maximum_concentration)
    if rule is None or rule.end_concentration is None:
        return
    if ask.residual is None:
        message = f"The rule requires {rule.end_concentration * 1000.0:g} mg/L at the end of the hold. Measure it."
        notes.warn("end_concentration_unmeasured", "residual", message)
    else:
        message = (
            f"The chlorine at the end is below the {rule.end_concentration * 1000.0:g} mg/L that the rule requires. "
            "Dose again and hold again."
        )
        short = ask.residual < rule.end_concentration * (1.0 - ROUNDING)
        notes.warn("end_concentration_missed", "residual", message, when=short)


def rules_for(
    ask: ShockRequest[Numbers], free_chlorine: Numbers, *, source: bool, plumbing: bool
) -> list[PublishedRule[Numbers]]:
    """Return the steps of the published rules for this use that decide or are farthest apart, or all of them.

    Parameters
    ----------
    ask, free_chlorine
        The request, and the free chlorine aimed at [kg/m³].
    source, plumbing : bool
        Whether a well or cistern is dosed, and whether tanks or pipes of the house are.
    """
    chosen = _rule(ask)
    uses = {"wells" if chosen is None else chosen.use}
    if uses <= {"wells", "house_plumbing"}:
        uses |= ({"wells"} if source else set()) | ({"house_plumbing"} if plumbing else set())
    steps = [
        (name, rule, step)
        for name, rule in chlorination_rules().items()
        if rule.use in uses
        for step in range(len(rule.minimum_concentrations))
    ]
    if not ask.all_rules:
        apart = [one for use in uses for one in _farthest_apart([step for step in steps if step[1].use == use])]
        steps = [one for one in steps if one[1] is chosen or one in apart]
    return [
        _published(ask, name, rule, step, decides=rule is chosen and _step_of(rule, free_chlorine) == step)
        for name, rule, step in steps
    ]


def _farthest_apart(steps: list[Step]) -> list[Step]:
    """Return the steps with the weakest and the strongest solution, and with the shortest and the longest hold."""
    held = [
        (rule.minimum_concentrations[step], rule.hold_times[step], (name, rule, step))
        for name, rule, step in steps
        if rule.hold_times is not None and not rule.recalled
    ]
    found: list[Step] = []
    for key in (0, 1):
        ends = (min(held, key=lambda one: one[key]), max(held, key=lambda one: one[key])) if held else ()
        found += [end[2] for end in ends]
    return found


def _published(
    ask: ShockRequest[Numbers], name: str, rule: ChlorinationRule, step: int, *, decides: Any
) -> PublishedRule[Numbers]:
    why = None
    if rule is _rule(ask):
        strictest = (
            "No rule is named: of those for wells that were read none holds longer, and none as long is stronger."
        )
        why = "You named it." if ask.rule else strictest
    elif ask.rule is None and rule.use == "wells" and rule.hold_times is None:
        why = "No hold time of it was seen."
    elif ask.rule is None and rule.use == "wells" and rule.recalled:
        why = "A figure of it is recalled, not read."
    return PublishedRule(
        rule=name,
        use=cast("RuleUse", rule.use),
        free_chlorine=rule.minimum_concentrations[step],
        hold_time=None if rule.hold_times is None else rule.hold_times[step],
        decides=decides if np.ndim(decides) else bool(decides),
        reason=why,
        source=f"{rule.source}{' [partly from memory]' if rule.recalled else ''}",
    )
