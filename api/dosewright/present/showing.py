"""Sets how answers show themselves: as text, in a notebook, as CSV, as a data frame.

Nothing here runs until it is called, so an answer costs no more for being able to show itself.
"""

from typing import Any

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.engine.shown import FrameLibrary, set_renderer
from dosewright.present.answer_tables import view_of
from dosewright.present.csv import as_csv
from dosewright.present.frame import as_frame
from dosewright.present.html import as_notebook
from dosewright.present.text import as_text

__all__: list[str] = []


class _Renderer:
    """Renders answers; see :class:`~dosewright.engine.shown.Renderer`."""

    def text(self, answer: Answer | BatchAnswer[Any]) -> str:
        """Return tables for a terminal."""
        return as_text(view_of(answer))

    def html(self, answer: Answer | BatchAnswer[Any]) -> str:
        """Return tables for a notebook."""
        return as_notebook(view_of(answer))

    def csv(self, answer: Answer | BatchAnswer[Any], *, decimal_comma: bool) -> str:
        """Return comma-separated values."""
        return as_csv(answer, decimal_comma=decimal_comma)

    def frame(self, answer: Answer | BatchAnswer[Any], library: FrameLibrary | None) -> Any:
        """Return a data frame."""
        return as_frame(answer, library)


set_renderer(_Renderer())
