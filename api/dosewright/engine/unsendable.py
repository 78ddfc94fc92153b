"""Faults that reading and the checks between fields find in a request; nothing is computed."""

from collections.abc import Collection, Iterator, Mapping
from typing import Any

import msgspec

from dosewright.engine.batch.columnwise import without_columns
from dosewright.engine.faults import Fault
from dosewright.engine.fields.field import Reading
from dosewright.engine.fields.section import SectionField, sections_of
from dosewright.engine.fields.unread import UNREAD
from dosewright.engine.notes import Notes
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, find
from dosewright.engine.run import check_fields

__all__ = ["reading_faults"]


def reading_faults(path: str, request: Mapping[str, Any], *, batch: bool = False) -> list[Fault]:
    """Return what cannot be read in a request, and in its sections.

    Parameters
    ----------
    path : str
        Topic and name of the calculation.
    request : mapping
        The request as plain data.
    batch : bool
        Whether quantities can be columns; a row that cannot be read is not a fault of the request.
    """
    return list(_faults(find(path), request, Reading(batch=batch), ()))


def _faults(
    entry: Calculation[Any, Any], request: Mapping[str, Any], reading: Reading, shared: Collection[str]
) -> Iterator[Fault]:
    ask = reader_for(entry.request).read(request, "/", reading)
    for name in shared:
        if request.get(name) is None:
            setattr(ask, name, UNREAD)
    check_fields(entry, without_columns(ask) if reading.batch else ask, reading, Notes())
    yield from reading.faults
    units = {} if ask.units is None or ask.units is UNREAD else {"units": ask.units}
    for field in reader_for(entry.request).fields:
        if not isinstance(field, SectionField):
            continue
        for place, section in sections_of(field, getattr(ask, field.name)):
            inner = Reading(batch=reading.batch, query=section.query)
            for fault in _faults(find(field.calculation), {**units, **section.raw}, inner, field.shared):
                # Values of the whole request for its sections can be missing in each.
                if fault.code != "required" or fault.pointer[1:] not in field.shared:
                    yield msgspec.structs.replace(fault, pointer=f"/{place}{fault.pointer}")
