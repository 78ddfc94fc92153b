"""Forms of an answer other than its table: picture, drawing, page, calendar; its registry entry names them."""

from typing import Any

from dosewright.engine.base import Answer
from dosewright.engine.registry import calculations, entry_of
from dosewright.present.html import as_html
from dosewright.present.pdf import Paper, as_pdf
from dosewright.present.picture.chart import Chart

__all__ = ["NoPictureError", "chart_of", "page_html", "page_pdf", "pictured_paths"]


class NoPictureError(LookupError):
    """Raised where no picture is drawn of an answer."""


def pictured_paths() -> tuple[str, ...]:
    """Return the paths of the calculations that have a picture."""
    return tuple(path for path, entry in calculations().items() if entry.views.chart)


def chart_of(answer: Any) -> Chart:
    """Return what the picture of an answer shows.

    Raises
    ------
    NoPictureError
        The answer is a batch, or of a calculation that has no picture.
    """
    entry = entry_of(type(answer)) if isinstance(answer, Answer) else None
    if entry is None or entry.views.chart is None:
        what = entry.path if entry else type(answer).__name__
        raise NoPictureError(f"There is no picture of {what}; there are pictures of: {', '.join(pictured_paths())}.")
    return entry.views.chart(answer)


def page_html(answer: Answer) -> bytes:
    """Return the page of an answer as one HTML file that needs no other.

    Raises
    ------
    LookupError
        Answers of this type have no page.
    """
    return as_html(_page(answer))


def page_pdf(answer: Answer, paper: Paper = "a4") -> bytes:
    """Return the page of an answer as a tagged PDF.

    Raises
    ------
    LookupError
        Answers of this type have no page.
    """
    return as_pdf(_page(answer), paper)


def _page(answer: Answer) -> Any:
    entry = entry_of(type(answer))
    if entry.views.page is None:
        raise LookupError(f"There is no page of {entry.path}.")
    return entry.views.page(answer)
