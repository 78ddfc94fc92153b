"""Results as a laboratory prints them: absent, present, <1, >200.5, ND, TNTC, 0.4 NTU, 31 mg/L as NO3, 87 %/cm.

A result below a detection limit counts as that limit, one above a range as its end: the safe side of what is known.
"""

import re
from dataclasses import dataclass
from typing import Any, cast

from dosewright.engine.fields.field import Field, Reading, Refs, Structs
from dosewright.engine.fields.measure import Measure, MeasureField

__all__ = ["LABORATORY_PATTERN", "Laboratory", "LaboratoryField", "as_quantity"]

_NITROGEN_IN_NITRATE = 14.0067 / 62.0049  # molar masses of N and NO3, IUPAC 2021
_TOO_MANY = 200  # colonies on a membrane that are no longer counted, common practice, no source
_ABSENT = frozenset({"absent", "negative", "none", "nd", "not detected", "none detected", "bdl"})
_PRESENT = frozenset({"present", "positive"})
_MANY = frozenset({"tntc", "too numerous to count"})
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?")
_AS = re.compile(r"\s+as\s+(no3|nitrate|n|nitrogen|caco3)\s*$", re.IGNORECASE)

LABORATORY_PATTERN = (
    "^(?:[Aa]bsent|[Nn]egative|[Nn]one|ND|[Nn]ot detected|[Pp]resent|[Pp]ositive|TNTC|"
    r"[<>]? ?[0-9]+(?:\.[0-9]+)? ?(?:%/cm|NTU|mg/L(?: as (?:N|NO3|CaCO3))?|(?:CFU|MPN)/100mL))$"
)
"""What a laboratory prints, beside plain quantities."""


@dataclass(frozen=True)
class Laboratory(Measure):
    """A quantity that a laboratory reports, in its words too."""

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        del hint, structs
        return LaboratoryField(name, default, self)


class LaboratoryField(MeasureField):
    """Reads a laboratory's result, or a plain quantity."""

    __slots__ = ()

    def query_pattern(self, refs: Refs) -> str:
        """Return the regular expression of its texts."""
        return f"(?:{super().query_pattern(refs)})|(?:{LABORATORY_PATTERN})"

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        """Return its JSON Schema: a quantity, or a word that laboratories print."""
        word: dict[str, Any] = {"type": "string", "pattern": LABORATORY_PATTERN, "maxLength": 64}
        columns: list[dict[str, Any]] = [{"type": "array", "items": word, "minItems": 1}] if batch else []
        units = ", ".join(f"{profile}: {unit.symbol}" for profile, unit in self.kind.profiles.items() if unit.symbol)
        bare = f" A bare number needs the request's unit profile ({units})." if units else ""
        whole = super().schema(refs, batch=batch)
        examples = {"examples": whole["examples"]} if "examples" in whole else {}
        forms = [refs.quantity(self.kind, batch=batch), word, *columns]
        return {"anyOf": forms, "description": f"{whole['description']}{bare}", **examples}

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a result, or a column of them in a batch."""
        if isinstance(given, str):
            given = as_quantity(given, self.kind.dimension)
        elif isinstance(given, list):
            entries = cast("list[Any]", given)
            given = [as_quantity(one, self.kind.dimension) if isinstance(one, str) else one for one in entries]
        return super().read(given, at, reading)


def as_quantity(text: str, dimension: str) -> str:
    """Return a laboratory's result as a quantity with its unit; any other text as it is."""
    bare = text.strip()
    word = bare.lower()
    unit = {"count": " 1/100mL", "concentration": " mg/L"}.get(dimension, "")
    if word in _ABSENT and dimension != "share":
        return f"0{unit}"
    if dimension == "count" and word in _PRESENT | _MANY:
        return f"{1 if word in _PRESENT else _TOO_MANY}{unit}"
    sign, bare = bare[:1], bare.lstrip("<>").strip()
    if dimension == "count":
        return _count(bare, sign)
    if dimension == "plain":
        return re.sub(r"\s*NTU$", "", bare, flags=re.IGNORECASE)
    if dimension == "share":
        return re.sub(r"\s*/\s*cm$", "", bare)
    return _as_nitrogen(bare)


def _count(bare: str, sign: str) -> str:
    number = _NUMBER.match(bare)
    if number is None or sign not in {"<", ">"}:
        return bare
    # Fewer than one in the sample is none.
    value = "0" if sign == "<" and float(number[0]) <= 1.0 else number[0]
    rest = bare[number.end() :].strip()
    # Reports print a bound without its unit: it is per 100 mL.
    return f"{value} {rest or '1/100mL'}"


def _as_nitrogen(bare: str) -> str:
    said = _AS.search(bare)
    if said is None:
        return bare
    quantity = bare[: said.start()]
    number = _NUMBER.match(quantity)
    if number is None or said[1].lower() not in {"no3", "nitrate"}:
        return quantity
    return f"{float(number[0]) * _NITROGEN_IN_NITRATE!r}{quantity[number.end() :]}"
