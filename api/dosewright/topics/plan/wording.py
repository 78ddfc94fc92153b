"""The verdict and reasons of a plan in words, and the plan in a terminal."""

from collections.abc import Iterator, Mapping

from dosewright.present.wording import rounded
from dosewright.topics.plan.contract import PlanAnswer, PlanReason

__all__ = ["SEVERITIES", "VERDICTS", "in_short", "reason_line"]

VERDICTS: Mapping[str, tuple[str, str]] = {
    "suitable": ("Suitable", "With the values entered, UV disinfection suits this water and this house."),
    "fix_first": ("Fix before installing", "Fix the points below first. Then UV disinfection can be installed."),
    "not_suitable": ("Do not install", "Do not install this unit as planned. Reasons below."),
    "incomplete": ("Not enough information", "The plan cannot be judged yet. Missing information is listed below."),
}
"""A plan's verdict in words, and what it means."""
SEVERITIES: Mapping[str, str] = {"blocking": "Must be solved", "fix_first": "Fix first", "check": "Check"}
"""How severe a reason of a plan is, in words."""


def reason_line(reason: PlanReason) -> str:
    """Return a reason as one line; the messages of the water test contain value and limit already."""
    by = None if reason.section == "water_test" else reason.exceeds_limit_by
    short = f" Short by {rounded(by, 'up')}." if by else ""
    return f"{SEVERITIES[reason.severity]}: {reason.message}{short}"


def in_short(answer: PlanAnswer[float]) -> Iterator[str]:
    """Yield the lines of a plan in a terminal: verdict, reasons, missing information, cautions."""
    title, meaning = VERDICTS[answer.verdict]
    yield f"Verdict: {title}. {meaning}"
    for reason in answer.reasons:
        yield reason_line(reason)
    for gap in answer.missing:
        yield f"Not given: {gap.section}. Not assessed without it: {gap.not_assessed}."
    for caution in answer.cautions:
        yield f"Caution: {caution.message}"
