"""A calendar day."""

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any

from dosewright.engine.fields.field import Alias, Description, Field, Reading, Refs, Structs

__all__ = ["Day", "DayField"]

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@dataclass(frozen=True)
class Day(Description):
    """A calendar day, written as ISO 8601 has it: 2026-05-31. The field's type is ``datetime.date``."""

    doc: str
    example: str | None = None

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        del hint, structs
        return DayField(name, default, self)


class DayField(Field):
    """A calendar day."""

    __slots__ = ()

    control = "day"
    placeholder = "DAY"

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        """Return its JSON Schema."""
        del refs, batch
        return {"type": "string", "format": "date", "description": self.with_default(self.doc)}

    def query_schema(self, refs: Refs) -> dict[str, Any]:
        """Return its JSON Schema and description as a parameter of a query."""
        del refs
        return {"schema": {"type": "string", "format": "date"}, "description": self.doc}

    def annotation(self, alias: Alias, *, batch: bool) -> str:
        """Return its type in the client's signatures."""
        del alias, batch
        return "date | str"

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a day; the same for all rows of a batch."""
        if isinstance(given, dt.date) and not isinstance(given, dt.datetime):
            day = given
        elif isinstance(given, str) and _DAY.fullmatch(given):
            try:
                day = dt.date.fromisoformat(given)
            except ValueError as error:
                reading.fault(at + self.name, "out_of_range", f"This date does not exist: {error}.", given, "a day")
                return None
        else:
            message = "Expected a date as year-month-day, for example 2026-05-31."
            reading.fault(at + self.name, "wrong_type", message, given, "YYYY-MM-DD")
            return None
        if not reading.batch:
            reading.query_parameters.append(f"{self.name}={day.isoformat()}")
        return day
