"""Pages and calendars of answers: what they hold (:mod:`plan`), and how it is written (HTML, PDF, iCalendar)."""

from typing import cast

from dosewright.engine.base import Answer
from dosewright.present.html import PAGE_POLICY, as_html
from dosewright.present.library import MissingPagesLibraryError
from dosewright.present.pdf import Paper, as_pdf
from dosewright.topics.chlorine.page import TITLES, chlorine_page
from dosewright.topics.plan.contract import PlanAnswer
from dosewright.topics.plan.page import plan_page
from dosewright.topics.site.calendar import as_calendar
from dosewright.topics.site.drawing import drawing_of

__all__ = [
    "PAGE_POLICY",
    "MissingPagesLibraryError",
    "Paper",
    "answer_pdf",
    "as_calendar",
    "drawing_of",
    "has_page",
    "plan_html",
    "plan_pdf",
]


def plan_html(answer: PlanAnswer[float]) -> bytes:
    """Return a plan as one HTML file that needs no other."""
    return as_html(plan_page(answer))


def plan_pdf(answer: PlanAnswer[float], paper: Paper = "a4") -> bytes:
    """Return a plan as a tagged PDF."""
    return as_pdf(plan_page(answer), paper)


def has_page(answer: type[Answer]) -> bool:
    """Tell whether answers of a type have a page to print."""
    return answer is PlanAnswer or answer in TITLES


def answer_pdf(answer: Answer, paper: Paper = "a4") -> bytes:
    """Return the page of any answer that has one as a tagged PDF.

    Raises
    ------
    KeyError
        Answers of this type have no page.
    """
    if isinstance(answer, PlanAnswer):
        return plan_pdf(cast("PlanAnswer[float]", answer), paper)
    return as_pdf(chlorine_page(answer), paper)
