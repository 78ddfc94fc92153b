"""Pages and calendars of answers: what they hold (:mod:`plan`), and how it is written (HTML, PDF, iCalendar)."""

from dosewright.contracts.plan import PlanAnswer
from dosewright.pages.calendar import as_calendar
from dosewright.pages.drawing import drawing_of
from dosewright.pages.html import PAGE_POLICY, as_html
from dosewright.pages.library import MissingPagesLibraryError
from dosewright.pages.pdf import Paper, as_pdf
from dosewright.pages.plan import plan_page

__all__ = ["PAGE_POLICY", "MissingPagesLibraryError", "Paper", "as_calendar", "drawing_of", "plan_html", "plan_pdf"]


def plan_html(answer: PlanAnswer[float]) -> bytes:
    """Return a plan as one HTML file that needs no other."""
    return as_html(plan_page(answer))


def plan_pdf(answer: PlanAnswer[float], paper: Paper = "a4") -> bytes:
    """Return a plan as a tagged PDF."""
    return as_pdf(plan_page(answer), paper)
