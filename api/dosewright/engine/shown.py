"""What every answer can do to show itself; the presentation layer does it.

The engine knows no presentation, so the renderer is set from outside, once, when the topics are imported.
"""

from pathlib import Path
from typing import Any, Literal, Protocol, cast

import msgspec
import numpy as np

__all__ = ["FrameLibrary", "Renderer", "Shown", "set_renderer"]

FrameLibrary = Literal["pandas", "polars"]


class Renderer(Protocol):
    """Renders an answer, or the answer to a batch."""

    def text(self, answer: Any) -> str:
        """Return tables for a terminal."""
        ...

    def html(self, answer: Any) -> str:
        """Return tables for a notebook."""
        ...

    def csv(self, answer: Any, *, decimal_comma: bool) -> str:
        """Return comma-separated values."""
        ...

    def frame(self, answer: Any, library: FrameLibrary | None) -> Any:
        """Return a data frame."""
        ...


_renderers: list[Renderer] = []


def set_renderer(renderer: Renderer) -> None:
    """Set how answers show themselves."""
    _renderers[:] = [renderer]


class Shown:
    """An answer's own methods to show itself, or to become another form of data.

    Nothing runs until it is called, so an answer costs no more for being able to show itself.
    """

    __slots__ = ()

    def __str__(self) -> str:
        return _renderers[0].text(self) if _renderers else repr(self)

    def _repr_pretty_(self, printer: Any, cycle: bool) -> None:  # noqa: FBT001 - IPython's own signature
        printer.text("…" if cycle else str(self))

    def _repr_html_(self) -> str:
        return _renderers[0].html(self)

    def to_dict(self) -> dict[str, Any]:
        """Return the answer as plain data, as in JSON; a row with an error is None in a column of a batch."""
        plain: dict[str, Any] = msgspec.to_builtins(self, enc_hook=_as_list)
        return plain

    def to_csv(self, path: str | Path | None = None, *, decimal_comma: bool = False) -> str:
        """Return the answer as comma-separated values, the same as the service gives; with a path, write it too.

        Parameters
        ----------
        path : str or Path, optional
            File to write, as UTF-8.
        decimal_comma : bool
            Write decimal commas, and semicolons between cells.
        """
        text = _renderers[0].csv(self, decimal_comma=decimal_comma)
        if path is not None:
            Path(path).write_text(text, encoding="utf-8", newline="")
        return text

    def to_frame(self, library: FrameLibrary | None = None) -> Any:
        """Return a data frame: one row for a single answer, one a row for a batch, a column for each value.

        Columns of list items are named ``list.index.field``. A batch adds the columns ``warnings`` and ``error``; a
        number of a row with an error is not a number (pandas) or null (polars).

        Parameters
        ----------
        library : {"pandas", "polars"}, optional
            Which to use; when absent, the one installed (pandas before polars). With pandas, the frame's ``attrs``
            hold units, warnings and cautions.

        Raises
        ------
        ModuleNotFoundError
            Neither is installed; the message says what to install.
        """
        return _renderers[0].frame(self, library)


def _as_list(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return [None if entry != entry else entry for entry in cast("Any", value).tolist()]
    raise NotImplementedError(f"no plain form of {type(value).__name__}")
