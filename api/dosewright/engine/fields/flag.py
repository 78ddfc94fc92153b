"""Yes or no."""

from dataclasses import dataclass
from typing import Any

import msgspec

from dosewright.engine.fields.field import Alias, AnswerField, Description, Field, Reading, Refs, Structs

__all__ = ["Flag", "FlagField"]


@dataclass(frozen=True)
class Flag(Description):
    """Yes or no."""

    doc: str
    example: bool | None = None

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        del hint, structs
        return FlagField(name, default, self)

    def answer_field(self, name: str, hint: Any, *, optional: bool) -> AnswerField:
        """Return what an answer's field is."""
        return AnswerField(name, self.doc, optional, schema=msgspec.json.schema(hint), flag=True)


class FlagField(Field):
    """True or false."""

    __slots__ = ()

    control = "flag"
    names = ("true", "false")

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        """Return its JSON Schema."""
        del refs, batch
        return {"type": "boolean", "description": self.with_default(self.doc)}

    def query_schema(self, refs: Refs) -> dict[str, Any]:
        """Return its JSON Schema and description as a parameter of a query."""
        del refs
        return {"schema": {"type": "boolean"}, "description": self.doc}

    def annotation(self, alias: Alias, *, batch: bool) -> str:
        """Return its type in the client's signatures."""
        del alias, batch
        return "bool"

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read true or false."""
        value = {"true": True, "false": False}.get(given) if reading.query and isinstance(given, str) else given
        if not isinstance(value, bool):
            reading.fault(at + self.name, "wrong_type", "Expected true or false.", given, ["true", "false"])
            return None
        if not reading.batch:
            reading.query_parameters.append(f"{self.name}={'true' if value else 'false'}")
        return value
