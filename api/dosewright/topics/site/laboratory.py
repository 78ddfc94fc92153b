"""Results as a laboratory prints them: absent, present, <1, >200.5, ND, TNTC, 0.4 NTU, 31 mg/L as NO3, 87 %/cm.

A result is a bound where the laboratory could not measure further. A bound on the safe side is taken as its value. A
bound on the other side, or one that does not show whether the limit is met, is rejected, so that it never passes for a
value.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast

import numpy as np

from dosewright.engine.faults import Fault
from dosewright.engine.fields.field import Field, Reading, Refs, Structs
from dosewright.engine.fields.measure import Measure, MeasureField, holds_texts
from dosewright.quantities import Unreadable, read
from dosewright.tables.site import water_limits

__all__ = ["CALCIUM_CARBONATE", "NITRATE", "Laboratory", "LaboratoryField", "as_quantity", "laboratory_pattern"]

_NITROGEN_IN_NITRATE = 14.0067 / 62.0049  # molar masses of N and NO3, IUPAC 2021
_TOO_MANY = 200  # colonies on a membrane; more are not counted. Common practice, no source
_ABSENT = frozenset({"absent", "negative", "none", "nd", "not detected", "none detected", "bdl"})
_PRESENT = frozenset({"present", "positive"})
_MANY = frozenset({"tntc", "too numerous to count"})
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?")
_AS = re.compile(r"\s+as\s+([A-Za-z0-9]+)\s*$", re.IGNORECASE)
_PER_100_ML = re.compile(r"\s*(?:(?:1|cfu|mpn)?\s*/\s*100\s*ml)?\s*$", re.IGNORECASE)
_FIGURE = r"[0-9]+(?:\.[0-9]+)?"
_CLOSE = 1e-9


@dataclass(frozen=True)
class Laboratory(Measure):
    """A quantity as a laboratory reports it, also in words.

    Attributes
    ----------
    worse : {"higher", "lower", "either"}
        Which side of the value is worse. A bound on that side is rejected; with either, every bound.
    species : pairs of str and float
        What the result can be expressed as ("as N"), in lower case, with the factor to the field's unit.
    """

    worse: Literal["higher", "lower", "either"] = "higher"
    species: tuple[tuple[str, float], ...] = ()

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        del hint, structs
        return LaboratoryField(name, default, self)


NITRATE = (("n", 1.0), ("nitrogen", 1.0), ("no3", _NITROGEN_IN_NITRATE), ("nitrate", _NITROGEN_IN_NITRATE))
"""Nitrate as nitrogen or as nitrate."""

CALCIUM_CARBONATE = (("caco3", 1.0),)
"""Hardness and alkalinity."""


def laboratory_pattern(measure: Laboratory) -> str:
    """Return the regular expression of what a laboratory prints for a field, apart from plain quantities."""
    dimension = measure.quantity.dimension
    if dimension == "count":
        words = "[Aa]bsent|[Nn]egative|[Nn]one|ND|[Nn]ot detected|[Pp]resent|[Pp]ositive|TNTC"
        return f"^(?:{words}|[<>]? ?[1-9][0-9]{{0,3}}(?: ?(?:CFU|MPN)/100mL)?)$"
    if dimension == "share":
        return "^>? ?[1-9][0-9]? ?%(?:/cm)?$"
    sign = "" if measure.worse == "either" else "<? ?"
    unit = "(?: ?NTU)?" if dimension == "plain" else " mg/L"
    names = {"n": "N", "no3": "NO3", "caco3": "CaCO3"}
    species = "|".join(names[name] for name, _ in measure.species if name in names)
    return f"^{sign}{_FIGURE}{unit}{f'(?: as (?:{species}))?' if species else ''}$"


class LaboratoryField(MeasureField):
    """Reads a laboratory result or a plain quantity."""

    __slots__ = ()

    def query_schema(self, refs: Refs) -> dict[str, Any]:
        """Return its JSON Schema and description as a query parameter."""
        words = laboratory_pattern(cast("Laboratory", self.measure))
        pattern = f"(?:{refs.pattern(self.kind)})|(?:{words})"
        units = f"Units: {', '.join(self.kind.symbols)}." if self.kind.symbols else "A plain number."
        schema = {"type": "string", "pattern": pattern, "maxLength": 64, "description": units}
        return {"schema": schema, "description": self.bounded}

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        """Return its JSON Schema: a quantity or a word used by laboratories."""
        word: dict[str, Any] = {
            "type": "string",
            "pattern": laboratory_pattern(cast("Laboratory", self.measure)),
            "maxLength": 64,
        }
        columns: list[dict[str, Any]] = [{"type": "array", "items": word, "minItems": 1}] if batch else []
        units = ", ".join(f"{profile}: {unit.symbol}" for profile, unit in self.kind.profiles.items() if unit.symbol)
        bare = f" A bare number needs the request's unit profile ({units})." if units else ""
        whole = super().schema(refs, batch=batch)
        examples = {"examples": whole["examples"]} if "examples" in whole else {}
        forms = [refs.quantity(self.kind, batch=batch), word, *columns]
        return {"anyOf": forms, "description": f"{whole['description']}{bare}", **examples}

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a result, or a column of them in a batch."""
        measure = cast("Laboratory", self.measure)
        if isinstance(given, str):
            try:
                plain = as_quantity(given, measure)
                self._decide(given, plain, reading)
            except Unreadable as fault:
                reading.fault(at + self.name, fault.code, fault.message, given, fault.allowed)
                return None
            return super().read(plain, at, reading)
        if isinstance(given, (list, tuple)) or (isinstance(given, np.ndarray) and holds_texts(given)):
            entries = list(cast("Iterable[Any]", given))
            return super().read(self._column(entries, at, reading), at, reading)
        return super().read(given, at, reading)

    def _column(self, entries: list[Any], at: str, reading: Reading) -> list[Any]:
        measure = cast("Laboratory", self.measure)
        plain: list[Any] = []
        for row, entry in enumerate(entries):
            one = entry
            if isinstance(entry, str):
                try:
                    one = as_quantity(entry, measure)
                    self._decide(entry, one, reading)
                except Unreadable as fault:
                    # The row has no value: the column's reader leaves it out, and this fault gives the reason.
                    reading.row_faults.append(_row_fault(at + self.name, fault, entry, row))
                    one = None
            plain.append(one)
        return plain

    def _decide(self, printed: str, plain: str, reading: Reading) -> None:
        """Record a bound that is taken as its value; reject one that does not show whether the limit is met."""
        sign = printed.strip()[:1]
        if sign not in {"<", ">"} or self.kind.dimension == "count":
            return
        value, unit = read(plain, self.kind, reading.profile)
        limit = water_limits().get(self.name)
        bound = None if limit is None else (limit.upper if sign == "<" else limit.lower)
        if limit is not None and bound is not None:
            shown = _in_limit_unit(self, unit.to_si(value), limit.unit)
            beyond = shown - bound if sign == "<" else bound - shown
            if beyond > _CLOSE * bound:
                side = "below" if sign == "<" else "above"
                message = (
                    f"{printed.strip()} does not show whether {self.name} is {side} its limit of {bound:g} "
                    f"{limit.unit}. Have it tested again by a more sensitive method, or leave it out: it is then "
                    "not tested."
                )
                raise Unreadable("limit_not_decided", message)
        reading.defaults[self.name] = f"{printed.strip()} is taken as {plain}, which is on the safe side"


def _in_limit_unit(field: MeasureField, si: float, symbol: str) -> float:
    lookup = field.kind.lookup
    return float(lookup[symbol].from_si(si)) if symbol in lookup else si


def _row_fault(pointer: str, fault: Unreadable, entry: str, row: int) -> Fault:
    return Fault(pointer=pointer, code=fault.code, message=fault.message, given=entry[:64], rows=[row])


def as_quantity(text: str, measure: Laboratory) -> str:
    """Return a laboratory result as a quantity with its unit; any other text unchanged.

    Raises
    ------
    Unreadable
        The words do not give a value, or the result is expressed as something else.
    """
    bare = text.strip()
    dimension = measure.quantity.dimension
    word = _PER_100_ML.sub("", bare).lower() if dimension == "count" else _word(bare)
    if dimension == "count" and word in _ABSENT | _PRESENT | _MANY:
        return f"{0 if word in _ABSENT else 1 if word in _PRESENT else _TOO_MANY} 1/100mL"
    if word in _ABSENT:
        message = (
            f'"{bare[:40]}" needs the detection limit of the test. Write it with "<", for example <0.005 mg/L. '
            "Without it the amount is unknown, not zero."
        )
        raise Unreadable("detection_limit_needed", message)
    sign = bare[:1] if bare[:1] in {"<", ">"} else ""
    figure = bare[len(sign) :].strip()
    if sign and figure[:1] in {"<", ">", "=", "-"}:
        raise Unreadable("not_a_quantity", f'"{bare[:40]}" is not a laboratory result. Write one sign and a number.')
    if dimension == "count":
        return _count(figure, sign)
    _refuse_wrong_bound(bare, sign, measure)
    if dimension == "plain":
        return re.sub(r"\s*NTU$", "", figure, flags=re.IGNORECASE)
    if dimension == "share":
        return re.sub(r"\s*/\s*cm$", "", figure)
    return _expressed(figure, measure)


def _word(bare: str) -> str:
    """Return a word without the unit that a form adds."""
    return re.sub(r"\s+\S*/\S*$|\s+%$", "", bare).lower()


def _refuse_wrong_bound(bare: str, sign: str, measure: Laboratory) -> None:
    allowed = {"higher": "<", "lower": ">", "either": ""}[measure.worse]
    if not sign or sign == allowed:
        return
    side = "higher" if sign == ">" else "lower"
    message = (
        f'"{bare[:40]}" shows only that the value is {side}, not by how much. Have it tested again within the range of '
        "the method (dilute a high sample) and enter the number."
    )
    raise Unreadable("bound_not_usable", message)


def _count(figure: str, sign: str) -> str:
    number = _NUMBER.match(figure)
    if number is None or not sign:
        return figure
    rest, value = figure[number.end() :].strip(), float(number[0])
    # Reports print a bound without its unit: it is per 100 mL.
    unit = rest or "1/100mL"
    if sign == "<" and value <= 0.0:
        raise Unreadable("not_a_quantity", f'"<{figure[:40]}" is not a result. A count cannot be below zero.')
    if sign == ">" and value <= 0.0:
        return f"1 {unit}"  # more than 0 is at least 1
    # Less than 1 in a sample of 100 mL is 0; in a smaller sample it is not.
    return f"0 {unit}" if sign == "<" and value <= 1.0 and _PER_100_ML.fullmatch(rest) else f"{number[0]} {unit}"


def _expressed(figure: str, measure: Laboratory) -> str:
    label = _AS.search(figure)
    if label is None:
        return figure
    factors: Mapping[str, float] = dict(measure.species)
    factor = factors.get(label[1].lower())
    if factor is None:
        known = " or ".join(f'"as {name}"' for name in factors)
        hint = f"write it {known}" if known else 'enter it as the element itself, without "as"'
        raise Unreadable("expressed_as", f'"as {label[1][:20]}" does not apply to this parameter: {hint}.')
    quantity = figure[: label.start()]
    number = _NUMBER.match(quantity)
    if factor == 1.0 or number is None:
        return quantity
    return f"{float(number[0]) * factor!r}{quantity[number.end() :]}"
