"""An answer as a data frame, of the library that is installed."""

import importlib
from typing import Any

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.engine.shown import FrameLibrary
from dosewright.present.answer_tables import cautions_of
from dosewright.present.rows import faults_by_row, own_leaves, warnings_by_row

__all__ = ["as_frame"]


def as_frame(answer: Answer | BatchAnswer[Any], library: FrameLibrary | None) -> Any:
    """Return a data frame with an answer's values, or with a batch's rows and their warnings and errors."""
    if not isinstance(answer, BatchAnswer):
        return _frame({name: [value] for name, value in own_leaves(answer)}, answer, library)
    wrong, warned = faults_by_row(answer), warnings_by_row(answer)
    warnings = ["" if row in wrong else warned(row) for row in range(answer.rows)]
    faults = [wrong.get(row) for row in range(answer.rows)]
    return _frame({**answer.columns, "warnings": warnings, "error": faults}, answer, library)


def _frame(columns: dict[str, Any], answer: Answer | BatchAnswer[Any], library: FrameLibrary | None) -> Any:
    name, module = _frame_library(library)
    if name == "polars":
        frame: Any = module.DataFrame(columns, strict=False)
        return frame.fill_nan(None)
    frame = module.DataFrame(columns)
    frame.attrs = {
        "units": dict(answer.units),
        "warnings": [warning.message for warning in answer.warnings],
        "cautions": cautions_of(answer),
    }
    return frame


def _frame_library(required: FrameLibrary | None) -> tuple[str, Any]:
    for name in (required,) if required else ("pandas", "polars"):
        try:
            return name, importlib.import_module(name)
        except ModuleNotFoundError:
            continue
    named = required or "pandas or polars"
    raise ModuleNotFoundError(f"to_frame needs {named}, which is not installed: pip install {required or 'pandas'}")
