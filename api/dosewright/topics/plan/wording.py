"""A plan's verdict, and what its reasons weigh, in words; and the plan in a terminal."""

from collections.abc import Iterator, Mapping

from dosewright.present.wording import said
from dosewright.topics.plan.contract import PlanAnswer

__all__ = ["VERDICTS", "WEIGHTS", "in_short"]

VERDICTS: Mapping[str, tuple[str, str]] = {
    "go": ("Go", "By what was given, ultraviolet disinfection fits this water and this house."),
    "treat_first": ("Treat or mend first", "Ultraviolet disinfection comes after what is named below is done."),
    "do_not": ("Do not install so", "What is named below first speaks against it."),
    "incomplete": ("Cannot be judged yet", "Too little was given to judge; what is missing is named below."),
}
"""A plan's verdict in words, and what it means."""
WEIGHTS: Mapping[str, str] = {"stop": "Stops it", "fix_first": "To be done first", "look": "Worth a look"}
"""What a reason of a plan weighs, in words."""


def in_short(answer: PlanAnswer[float]) -> Iterator[str]:
    """Yield what a terminal shows of a plan: verdict, reasons, what is missing, dangers."""
    title, meaning = VERDICTS[answer.verdict]
    yield f"Verdict: {title}. {meaning}"
    for reason in answer.reasons:
        by = f" (beyond its limit by {said(reason.beyond_by, 'up')})" if reason.beyond_by else ""
        yield f"{WEIGHTS[reason.weight]}: {reason.message}{by}"
    for gap in answer.missing:
        yield f"Not given: {gap.section}. What cannot be judged without it: {gap.cannot_judge}."
    for caution in answer.cautions:
        yield f"Caution: {caution.message}"
