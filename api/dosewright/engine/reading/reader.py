"""Raw values in, a typed request in SI out, with every fault found on the way.

One reader a request type, compiled once from the type's annotations. The same reader serves query texts, decoded JSON
and Python objects, single requests and batches of columns.
"""

import typing
from collections.abc import Mapping
from functools import cache
from typing import Any, cast, get_origin, get_type_hints

import msgspec

from dosewright.engine.base import Request
from dosewright.engine.faults import pointer_to
from dosewright.engine.fields import MISSING
from dosewright.engine.fields.field import Description, Field, Reading, strip_none
from dosewright.engine.fields.measure import QUOTED_UNITS
from dosewright.engine.fields.unread import NOT_GIVEN, UNREAD
from dosewright.engine.reading.places import place_elsewhere, place_within
from dosewright.quantities import PROFILES, shortened
from dosewright.quantities.spelling import meant

__all__ = ["RequestReader", "StructReader", "description_of", "reader_for"]


class StructReader:
    """Reads one struct type; see :func:`reader_for`."""

    def __init__(self, struct: type[Any], fields: tuple[Field, ...]) -> None:
        self.struct = struct
        self.fields = fields
        # Copied for each request: most fields are left at their defaults. A required one is None until read.
        omitted_sections: Any = struct(**{f.name: None if f.default is MISSING else f.default for f in fields})
        self._omitted_sections = omitted_sections.__copy__
        self._reported = tuple((f.name, f, f.default is MISSING or f.default_text is not None) for f in fields)
        self.names = tuple(field.name for field in fields)
        self.known = frozenset(self.names)
        tagged = struct.__struct_config__.tag is not None
        self.extra = frozenset({"kind"} if tagged else ())

    def read(self, raw: Mapping[str, Any], at: str, reading: Reading) -> Any:
        """Read a struct; a field that is invalid, or required and missing, is UNREAD."""
        # Checks between fields still need the good ones, so a struct at fault is built all the same.
        found = self._omitted_sections()
        get = raw.get
        for name, field, texts in self._reported:
            given = get(name)
            if given is not None:
                value = field.read(given, at, reading)
                if value is not NOT_GIVEN:
                    setattr(found, name, UNREAD if value is None else value)
                    continue
            if texts:
                self._omitted(name, field, at, reading, found)
        if not self.known.issuperset(raw):
            self._unknown(raw, at, reading)
        return found

    @staticmethod
    def _omitted(name: str, field: Field, at: str, reading: Reading, found: Any) -> None:
        if field.default is MISSING:
            setattr(found, name, UNREAD)
            reading.fault(at + name, "required", f"{name} is required.", allowed=field.allowed)
        elif field.default_text is not None:
            reading.defaults[(at + name)[1:].replace("/", ".")] = field.default_text

    def _unknown(self, raw: Mapping[str, Any], at: str, reading: Reading) -> None:
        for key in raw:
            if key in self.known or key in self.extra:
                continue
            if reading.full:
                return
            name = str(key)
            within = place_within(self.fields, name, in_item=at != "/")
            hint = within or meant(name, self.names) or place_elsewhere(name)
            message = f"{shortened(name)!r} is an unknown field.{hint}"
            reading.fault(pointer_to(at, name), "unknown_field", message, allowed=list(self.names))


class RequestReader(StructReader):
    """Reads a request: its unit profile and answer units first, then its fields."""

    def __init__(self, struct: type[Any], fields: tuple[Field, ...]) -> None:
        super().__init__(struct, fields)
        self.extra = frozenset({"units", "answer_units"})
        self.names = (*self.names, "units", "answer_units")

    def read(self, raw: Mapping[str, Any], at: str, reading: Reading) -> Any:
        """Read a whole request; never raises for what a caller sent."""
        profile = raw.get("units")
        if profile is not None:
            if profile in PROFILES:
                reading.profile = profile
            else:
                message = "Unknown unit profile. Use us, metric or si."
                reading.fault("/units", "unknown_choice", message, profile, list(PROFILES))
        request = super().read(raw, at, reading)
        request.units = reading.profile
        request.answer_units = self._answer_units(raw.get("answer_units"), reading)
        if reading.profile and not reading.batch:
            reading.query_parameters.append(f"units={reading.profile}")
        if request.answer_units and not reading.batch:
            # There can be thousands; an unknown unit is reported later.
            pairs = ";".join(f"{name}:{QUOTED_UNITS.get(unit, '')}" for name, unit in request.answer_units.items())
            reading.query_parameters.append(f"answer_units={pairs}")
        return request

    @staticmethod
    def _answer_units(given: Any, reading: Reading) -> dict[str, str] | None:
        if given is None:
            return None
        if reading.query and isinstance(given, str):
            pairs = [part.partition(":") for part in given.split(";") if part]
            return {name.strip(): unit.strip() for name, _, unit in pairs}
        if isinstance(given, Mapping):
            chosen = cast("Mapping[Any, Any]", given)
            if all(isinstance(name, str) and isinstance(unit, str) for name, unit in chosen.items()):
                return dict(cast("Mapping[str, str]", chosen))
        message = (
            'Expected one unit per field, for example {"velocity": "ft/s"}; in a query: answer_units=velocity:ft/s;…'
        )
        reading.fault("/answer_units", "wrong_type", message, cast("object", given))
        return None


def _field(name: str, hint: Any, default: Any) -> Field:
    if get_origin(hint) is not typing.Annotated:
        raise TypeError(f"field {name!r} has no description")
    inner, _ = strip_none(hint.__origin__)
    note: Description = hint.__metadata__[0]
    return note.reader(name, default, inner, _struct_reader)


def _compile(struct: type[Any], skip: frozenset[str]) -> tuple[Field, ...]:
    hints = get_type_hints(struct, include_extras=True)
    fields: list[Field] = []
    for info in msgspec.structs.fields(struct):
        if info.name in skip:
            continue
        default = info.default
        if default is msgspec.NODEFAULT:
            default = MISSING if info.default_factory is msgspec.NODEFAULT else info.default_factory()
        fields.append(_field(info.name, hints[info.name], default))
    return tuple(fields)


def description_of(struct: type[Any], name: str) -> Any:
    """Return the contract's description of a field: its Measure, Choice, Flag, Items or Part."""
    return get_type_hints(struct, include_extras=True)[name].__metadata__[0]


@cache
def _struct_reader(struct: type[Any]) -> StructReader:
    return StructReader(struct, _compile(struct, frozenset()))


@cache
def reader_for(struct: type[Request]) -> RequestReader:
    """Return the compiled reader of a request type.

    Raises
    ------
    TypeError
        The contract has a field without a description, or with one that does not fit its type.
    """
    return RequestReader(struct, _compile(struct, frozenset({"units", "answer_units"})))
