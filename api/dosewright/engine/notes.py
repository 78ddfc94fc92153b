"""What a calculation reports in addition to its numbers: warnings, cautions, methods, faults."""

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any, cast

import numpy as np
import numpy.typing as npt

from dosewright.engine.base import Basis, Caution, Warn
from dosewright.engine.faults import Fault
from dosewright.engine.fields.field import Printed, Reading
from dosewright.tables import table

__all__ = ["Labels", "Notes", "When", "caution", "label"]

When = bool | np.bool_ | npt.NDArray[np.bool_]


@cache
def caution(code: str) -> Caution:
    """Return a caution from the table of cautions.

    Raises
    ------
    KeyError
        No such caution.
    """
    row = table("cautions").row(code=code)
    if row is None:
        raise KeyError(code)
    return Caution(code=code, message=row["message"])


class Labels:
    """A text a row of a batch: one code a row into a short list of texts."""

    __slots__ = ("codes", "names")

    def __init__(self, codes: npt.NDArray[np.intp], names: Sequence[Any]) -> None:
        self.codes = codes
        self.names = names


def label(index: Any, names: Sequence[Any]) -> Any:
    """Name each entry of an index: a text for a scalar, labels for an array."""
    if isinstance(index, np.ndarray):
        return Labels(cast("npt.NDArray[np.intp]", index), names)
    return names[int(index)]


def _holds_anywhere(when: When) -> bool:
    # By identity first: most conditions are single flags, and asking numpy about one costs more than a calculation.
    if when is False or when is np.False_:
        return False
    return when is True or when is np.True_ or bool(np.any(when))


class Notes:
    """Collects the notes of a calculation. A condition is a flag, or one flag per row in a batch."""

    __slots__ = (
        "basis",
        "cautions",
        "defaults",
        "faults",
        "inputs",
        "printed",
        "query_parameters",
        "undecided",
        "units",
        "warnings",
    )

    def __init__(self) -> None:
        self.warnings: list[tuple[Warn, When]] = []
        self.cautions: list[Caution] = []
        self.basis: list[Basis] = []
        self.faults: list[tuple[Fault, When]] = []
        # Queries, inputs and defaults of the request's sections; see compose.
        self.query_parameters: list[str] = []
        self.inputs: dict[str, Any] = {}
        self.defaults: dict[str, str] = {}
        self.units: dict[str, str] = {}
        # What was given in other words than a quantity, and why a value given counts as not given; by field.
        self.printed: Mapping[str, Printed] = {}
        self.undecided: Mapping[str, str] = {}

    def take_words(self, reading: Reading) -> None:
        """Take what was noted while the request was read."""
        self.printed, self.undecided = reading.printed, reading.undecided

    def warn(self, code: str, field: str, message: str, *, when: When = True) -> None:
        """Add a warning where the condition holds."""
        if _holds_anywhere(when):
            self.warnings.append((Warn(code=code, field=field, message=message), when))

    def caution(self, *codes: str) -> None:
        """Add cautions by code."""
        for code in codes:
            self.cautions.append(caution(code))

    def add_basis(self, *basis: Basis) -> None:
        """Add the methods that the answer uses."""
        self.basis.extend(basis)

    def refuse(self, code: str, field: str, message: str, *, when: When = True, allowed: Any = None) -> None:
        """Refuse the request, or the rows where the condition holds; `field` is a pointer without its first slash."""
        if _holds_anywhere(when):
            self.faults.append((Fault(pointer=f"/{field}", code=code, message=message, allowed=allowed), when))
