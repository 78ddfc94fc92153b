"""One of a closed set of names."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, cast, get_args, get_origin

import numpy as np

from dosewright.engine.faults import MOST_FAULTS, Fault
from dosewright.engine.fields.field import Alias, Description, Field, Reading, Refs, Structs, quoted
from dosewright.engine.fields.measure import COLUMN_TYPES
from dosewright.quantities import shortened
from dosewright.quantities.spelling import meant

__all__ = ["Category", "Choice", "ChoiceField"]


class Category:
    """A column of names in a batch: one code a row into a short list of names."""

    __slots__ = ("codes", "names")

    def __init__(self, codes: np.ndarray[Any, np.dtype[np.intp]], names: tuple[str, ...]) -> None:
        self.codes = codes
        self.names = names


@dataclass(frozen=True)
class Choice(Description):
    """One of a closed set of names: the field's type is a ``Literal`` of them."""

    doc: str
    example: str | None = None

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        del structs
        if get_origin(hint) is not Literal:
            raise TypeError(f"choice {name!r} is not a Literal")
        return ChoiceField(name, default, self, get_args(hint))


class ChoiceField(Field):
    """One of a closed set of names."""

    __slots__ = ("names", "query_parameters")

    control = "choice"
    varies = True

    def __init__(self, name: str, default: Any, choice: Choice, names: tuple[str, ...]) -> None:
        super().__init__(name, default, choice)
        self.names = names
        self.query_parameters = {name: f"{self.name}={quoted(name)}" for name in names}

    @property
    def allowed(self) -> list[str]:
        """The names."""
        return list(self.names)

    def template_notes(self) -> list[str]:
        """Return the names as a sentence."""
        return [f"One of: {', '.join(self.names)}."]

    def described(self) -> dict[str, Any]:
        """Return the names."""
        return {"names": list(self.names)}

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        """Return its JSON Schema."""
        one = refs.choice(self)
        held = {"anyOf": [one, {"type": "array", "items": one, "minItems": 1}]} if batch else one
        return {**held, "description": self.with_default(self.doc)}

    def query_schema(self, refs: Refs) -> dict[str, Any]:
        """Return its JSON Schema and description as a parameter of a query."""
        return {"schema": refs.choice(self), "description": self.doc}

    def annotation(self, alias: Alias, *, batch: bool) -> str:
        """Return its type in the client's signatures."""
        one = alias.names(self.names)
        return f"{one} | Sequence[{one}]" if batch else one

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a name, or a column of names in a batch."""
        if isinstance(given, str):
            if given in self.names:
                if not reading.batch:
                    reading.query_parameters.append(self.query_parameters[given])
                return given
            message = f"{shortened(given)!r} is not one of the allowed names.{meant(given, self.names)}"
            reading.fault(at + self.name, "unknown_choice", message, given, list(self.names))
            return None
        if reading.batch and isinstance(given, COLUMN_TYPES):
            return self._column(cast("Sequence[Any]", given), at, reading)
        reading.fault(at + self.name, "wrong_type", "Expected a string.", given, list(self.names))
        return None

    def _column(self, given: Sequence[Any], at: str, reading: Reading) -> Category | None:
        index = {name: code for code, name in enumerate(self.names)}
        try:
            codes = np.fromiter((index.get(name, -1) for name in given), dtype=np.intp, count=len(given))
        except TypeError:
            reading.fault(at + self.name, "wrong_type", "Expected a list of strings.", given, list(self.names))
            return None
        self._refuse_names(given, np.flatnonzero(codes < 0).tolist(), at, reading)
        return Category(codes, self.names)

    def _refuse_names(self, given: Sequence[Any], bad: list[int], at: str, reading: Reading) -> None:
        """Report each unknown name once, with its rows and the names it can mean."""
        rows: dict[str, list[int]] = {}
        for row in bad:
            shown = shortened(given[row]) if len(rows) < MOST_FAULTS else ""
            rows.setdefault(shown if shown in rows or len(rows) < MOST_FAULTS - 1 else "", []).append(row)
        for shown, where in rows.items():
            message = f"{shown!r} is not one of the allowed names.{meant(shown, self.names)}"
            reading.row_faults.append(
                Fault(
                    pointer=at + self.name,
                    code="unknown_choice",
                    message=message if shown else "Not one of the names allowed here.",
                    given=shown or None,
                    allowed=list(self.names),
                    rows=where,
                )
            )
