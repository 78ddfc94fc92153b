"""Columns of a batch: lists or arrays of numbers or texts in, one SI array out, with the rows at fault."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Protocol, cast

import numpy as np
import numpy.typing as npt

from dosewright.engine.faults import MOST_FAULTS, Fault, more_faults
from dosewright.quantities import Kind, Unit, Unreadable, read, spoken

if TYPE_CHECKING:
    from dosewright.engine.fields.field_readers import Reading
    from dosewright.engine.fields.fields import Measure

__all__ = ["holds_texts", "read_column"]

Floats = npt.NDArray[np.float64]
AnyArray = npt.NDArray[Any]


def holds_texts(values: Any) -> bool:
    """Tell whether a column has anything but numbers, so that each entry is to be read with its own unit."""
    if isinstance(values, np.ndarray):
        return cast("AnyArray", values).dtype.kind not in "fiub"
    return not set(map(type, values)) <= {int, float, bool, type(None)}


class _Bounded(Protocol):
    """What is needed of a quantity field's reader."""

    name: str
    kind: Kind
    measure: "Measure"

    def outside(self, si: Floats) -> npt.NDArray[np.bool_]: ...


def read_column(
    field: _Bounded, values: Sequence[Any] | AnyArray, unit: Unit | None, at: str, reading: "Reading"
) -> Floats | None:
    """Read a column.

    Parameters
    ----------
    field : quantity field reader
        Gives kind and bounds.
    values : sequence or array
        Numbers when `unit` is given; texts with units otherwise. None marks an absent value.
    unit : Unit or None
        Unit of all numbers.
    at : str
        JSON pointer of the struct that holds the field, with its closing slash.
    reading : Reading
        Takes the faults: of the whole column, or of single rows.

    Returns
    -------
    ndarray or None
        SI values, NaN in rows at fault; None where the column as a whole cannot be read.
    """
    pointer = at + field.name
    shape = np.shape(values) if isinstance(values, np.ndarray) else (len(values),)
    if len(shape) != 1 or not shape[0]:
        reading.fault(pointer, "wrong_type", "A column is a flat list with at least one entry.", None)
        return None
    if unit is None:
        si = _texts(field, values, pointer, reading)
    else:
        numbers = _floats(values)
        if numbers is None:
            reading.fault(pointer, "wrong_type", "A column with one unit holds numbers only.", None, "numbers or null")
            return None
        si = cast("Floats", unit.to_si(numbers))
    if si is None:
        return None
    finite = np.isfinite(si)
    all_finite = bool(finite.all())
    if unit is not None and not all_finite:
        message = "The value is absent or not finite."
        reading.row_faults.append(_fault(pointer, "number_not_finite", message, ~finite, "a finite number"))
    outside = field.outside(si)
    if not all_finite:
        outside &= finite
    if outside.any():
        first = spoken(float(si[outside][0])) + f" {field.kind.profiles['si'].symbol}".rstrip()
        message = f"{field.name} must be {field.measure.allowed}."
        reading.row_faults.append(_fault(pointer, "out_of_range", message, outside, field.measure.allowed, first))
        si = np.where(outside, np.nan, si)
    return si


def _fault(
    pointer: str, code: str, message: str, rows: npt.NDArray[np.bool_], allowed: Any, given: str | None = None
) -> Fault:
    where = np.flatnonzero(rows).tolist()
    return Fault(pointer=pointer, code=code, message=message, given=given, allowed=allowed, rows=where)


def _floats(values: Sequence[Any] | AnyArray) -> Floats | None:
    if isinstance(values, np.ndarray):
        return values.astype(np.float64, copy=False) if values.dtype.kind in "fiu" else None
    if not set(map(type, values)) <= {int, float, type(None)}:
        return None
    try:
        return np.array(values, dtype=np.float64)
    except OverflowError:
        return None


def _texts(field: _Bounded, values: Sequence[Any] | AnyArray, pointer: str, reading: "Reading") -> Floats | None:
    si = np.full(len(values), np.nan)
    untold: list[int] = []
    wrong: dict[tuple[str, str], tuple[list[int], Any, Unreadable]] = {}
    for row, value in enumerate(values):
        try:
            number, unit = read(value, field.kind, reading.profile)
            if not isinstance(number, float):
                raise Unreadable("wrong_type", "One value a row is wanted.", None)  # noqa: TRY301 - told like the others
            si[row] = unit.to_si(number)
        except Unreadable as fault:
            if len(wrong) < MOST_FAULTS:
                # By its bare text: the search for a near name is left until all rows are read.
                wrong.setdefault((fault.code, str(fault)), ([], value, fault))[0].append(row)
            else:
                untold.append(row)
    if untold:
        reading.row_faults.append(more_faults(untold))
    for rows, first, fault in wrong.values():
        told, allowed = fault.message, fault.allowed
        reading.row_faults.append(
            Fault(pointer=pointer, code=fault.code, message=told, given=spoken(first), allowed=allowed, rows=rows)
        )
    return si
