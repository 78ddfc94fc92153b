"""Pictures of answers, drawn here, whichever door the answer came through.

from dosewright_sdk import InProcess
from dosewright_sdk.pictures import picture

picture(InProcess().uv.derated_flow(...)).save("derated-flow.svg")
"""

from functools import cached_property
from pathlib import Path

from dosewright.engine.base import Answer
from dosewright.present.library import MissingLibraryError
from dosewright.present.picture.chart import Chart
from dosewright.present.picture.rendering import FORMS, Form, render
from dosewright.present.views import NoPictureError, chart_of

__all__ = ["MissingLibraryError", "NoPictureError", "Picture", "picture"]


class Picture:
    """A picture of an answer; a notebook shows it.

    Attributes
    ----------
    title, description : str
        What it shows, in one line and in words.
    """

    def __init__(self, chart: Chart) -> None:
        self._chart = chart
        self.title = chart.title
        self.description = chart.description

    @cached_property
    def svg(self) -> str:
        """The picture as SVG source."""
        return render(self._chart, "svg").decode()

    @cached_property
    def png(self) -> bytes:
        """The picture as the bytes of a PNG file."""
        return render(self._chart, "png")

    def save(self, path: str | Path) -> Path:
        """Write the picture to a file, in the form that its name ends with.

        Parameters
        ----------
        path : str or Path
            Where to; ends with ``.svg`` or ``.png``.

        Returns
        -------
        Path
            The file.

        Raises
        ------
        ValueError
            The name ends otherwise.
        """
        target = Path(path)
        form: Form | None = next((form for form in FORMS if target.suffix.lower() == f".{form}"), None)
        if form is None:
            raise ValueError(
                f"a picture is saved as {' or '.join(f'.{form}' for form in FORMS)}, not as {target.name!r}"
            )
        target.write_bytes(render(self._chart, form))
        return target

    def _repr_svg_(self) -> str:
        return self.svg

    def _repr_png_(self) -> bytes:
        return self.png

    def __repr__(self) -> str:
        return f"<Picture: {self.title}. {self.description}>"


def picture(answer: Answer) -> Picture:
    """Return the picture of an answer.

    Parameters
    ----------
    answer : Answer
        A single answer, from any of the clients.

    Raises
    ------
    NoPictureError
        The calculation has no picture.
    MissingLibraryError
        When it is drawn, without the ``pictures`` extra.
    """
    return Picture(chart_of(answer))
