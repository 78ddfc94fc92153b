"""Coliform counts as a laboratory prints them: absent, NEG, n.d., <1, 3 CFU/100 mL, >200.5 MPN/100 mL, TNTC.

Less than 1 in 100 mL is none. A higher detection limit shows neither that there are none nor that there are some: such
a result counts as not tested, and the reason is kept.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, cast, get_args, get_origin

from dosewright.engine.fields import Choice
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.field import Field, Reading, Refs, Structs, quoted
from dosewright.engine.fields.unread import NOT_GIVEN
from dosewright.quantities import KINDS, Unreadable

__all__ = ["ABSENT", "COUNT_PATTERN", "ColiformResult", "NoResultError", "count_of", "refuse_no_result", "typed"]

ABSENT = frozenset({"absent", "negative", "neg", "none", "nd", "n.d", "n/d", "not detected", "none detected", "bdl"})
"""Words of a laboratory for a result below what it could detect, in lower case and without a point at the end."""
_PRESENT = frozenset({"present", "positive", "pos", "detected"})
_MANY = frozenset({"tntc", "too numerous to count"})
_NOT_TESTED = frozenset({f"not {done}" for done in ("tested", "analysed", "analyzed", "measured")})
_TOO_MANY = 200  # colonies on a membrane; more are not counted. Common practice, no source
_RESULT = re.compile(r"(<=|>=|<|>)?\s*((?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?)(?![0-9.,])\s*(.*)")
_PER_100_ML = re.compile(r"(?:1|cfu|mpn|colonies)?\s*(?:/|per )\s*100\s*ml", re.IGNORECASE)
_PER_ML = re.compile(r"(?:1|cfu|mpn|colonies)?\s*(?:/|per )\s*ml", re.IGNORECASE)
_NO_VOLUME = re.compile(r"cfu|mpn|colon(?:y|ies)", re.IGNORECASE)
_TYPED = str.maketrans(
    {"≥": ">=", "≤": "<=", "\u00a0": " ", "\u202f": " "} | dict(zip("₀₁₂₃₄₅₆₇₈₉", "0123456789", strict=True))
)
_LONGEST = 64
_MOST = 1e9  # in 100 mL, as in the water check

_WORDS = "[Aa]bsent|[Nn]egative|NEG|[Nn]one|ND|[Nn]\\.d\\.|[Nn]ot detected|[Pp]resent|[Pp]ositive|POS|TNTC"
COUNT_PATTERN = f"{_WORDS}|[<>]?=? ?[1-9][0-9]{{0,3}}(?:\\.[0-9])?(?: ?(?:CFU|MPN)/100 ?mL)?|0"
"""Regular expression of what a laboratory prints for a count."""
_SHORT_PATTERN = "^(?:ND|NEG|POS|TNTC|<1|0|[1-9][0-9]{0,3} ?(?:CFU|MPN)/100 ?mL)$"


class NoResultError(Exception):
    """A text that is no result: the parameter was not tested, or a bound does not decide; then with the reason."""

    def __init__(self, reason: str = "") -> None:
        super().__init__(reason)
        self.reason = reason


def typed(text: str) -> str:
    """Return a printed text in the characters of a keyboard: >= for ≥, NO3 for NO₃."""
    return " ".join(text.translate(_TYPED).split())


def refuse_no_result(text: str) -> None:
    """Raise where a text says that nothing was tested.

    Raises
    ------
    NoResultError
        It says so; without a reason.
    """
    if typed(text).lower() in _NOT_TESTED:
        raise NoResultError


def count_of(text: str) -> str:
    """Return a count as a quantity with its unit; a text that is no count unchanged.

    Raises
    ------
    Unreadable
        The count is below 0, or does not say for which volume.
    NoResultError
        It was not tested, or its detection limit is too high to show whether there are any.
    """
    bare = typed(text)
    refuse_no_result(bare)
    word = re.sub(rf"\s*{_PER_100_ML.pattern}$", "", bare, flags=re.IGNORECASE).lower().rstrip(".")
    if word in ABSENT | _PRESENT | _MANY:
        return f"{0 if word in ABSENT else 1 if word in _PRESENT else _TOO_MANY} 1/100mL"
    result = _RESULT.fullmatch(bare)
    if result is None or len(bare) > _LONGEST:
        return bare
    sign, figure, unit = result[1] or "", result[2], result[3]
    if _NO_VOLUME.fullmatch(unit):
        message = f'"{bare}" does not give the volume of the sample. Write {sign}{figure} {unit}/100 mL.'
        raise Unreadable("unit_missing", message)
    if _PER_100_ML.fullmatch(unit) or (not unit and (sign or float(figure) == 0.0)):
        unit = "1/100mL"  # reports print a bound without its unit: it is per 100 mL
    elif _PER_ML.fullmatch(unit):
        unit = "1/mL"
    if not sign or unit not in KINDS["count"].lookup:
        return f"{figure} {unit}".rstrip()
    return _bound(bare, sign, figure, unit)


def _bound(bare: str, sign: str, figure: str, unit: str) -> str:
    value = float(figure)
    lookup = KINDS["count"].lookup
    in_100_ml = value * lookup[unit].to_si(1.0) / lookup["1/100mL"].to_si(1.0)
    if sign == "<" and value <= 0.0:
        raise Unreadable("not_a_quantity", f'"{bare}" is not a result. A count cannot be below zero.')
    if sign[0] == "<":
        # Less than 1 in 100 mL is none; less than 1 in a smaller sample is not.
        if in_100_ml < 1.0 or (sign == "<" and in_100_ml <= 1.0):
            return f"0 {unit}"
        raise NoResultError(
            f"{bare} does not show whether there are any: the detection limit is too high. It counts as not tested. "
            "Have it tested again with a detection limit of 1 in 100 mL."
        )
    if value <= 0.0:
        if sign == ">=":
            raise NoResultError(f"{bare} does not show whether there are any. It counts as not tested.")
        return f"1 {unit}"  # more than 0 is at least 1
    return f"{figure} {unit}"


@dataclass(frozen=True)
class ColiformResult(Choice):
    """Absent or present, also as a laboratory prints it."""

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        del structs
        if get_origin(hint) is not Literal:
            raise TypeError(f"choice {name!r} is not a Literal")
        return _ColiformField(name, default, self, get_args(hint))


class _ColiformField(ChoiceField):
    """Reads absent, present, or a laboratory's word or count for them."""

    __slots__ = ()

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        """Return its JSON Schema: a name, or a word or count as a laboratory prints it."""
        whole = super().schema(refs, batch=batch)
        word = {"type": "string", "pattern": _SHORT_PATTERN, "maxLength": _LONGEST}
        forms = whole["anyOf"] if "anyOf" in whole else [refs.choice(self)]
        return {"anyOf": [*forms, word], "description": whole["description"]}

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a result, or a column of them in a batch."""
        given = _as_text(given)
        if isinstance(given, str) and given not in self.names:
            return self._printed(given, at, reading)
        if reading.batch and isinstance(given, (list, tuple)):
            return super().read([_in_a_column(one) for one in cast("Sequence[Any]", given)], at, reading)
        return super().read(given, at, reading)

    def _printed(self, given: str, at: str, reading: Reading) -> Any:
        try:
            name = _named(given)
        except Unreadable as fault:
            reading.fault(at + self.name, fault.code, fault.message, given, self.allowed)
            return None
        except NoResultError as none:
            if none.reason and self.required:
                reading.fault(at + self.name, "detection_limit_too_high", none.reason, given, self.allowed)
                return None
            if none.reason:
                reading.defaults[(at + self.name)[1:].replace("/", ".")] = none.reason
                reading.query_parameters.append(f"{self.name}={quoted(given.strip())}")
            return NOT_GIVEN
        value = super().read(name, at, reading)
        if value is not None and not reading.batch:
            reading.query_parameters[-1] = f"{self.name}={quoted(given.strip())}"
        return value


def _named(text: str) -> str:
    """Return absent or present for a result; any other text unchanged."""
    result = _RESULT.fullmatch(count_of(text))
    if result is None or (result[3] and result[3] not in KINDS["count"].lookup):
        return text
    if float(result[2]) > 0.0:
        return "present"  # any count is some, whatever the volume
    return "absent" if result[3] in {"", "1/100mL"} else text


def _as_text(given: Any) -> Any:
    """Return a count that is a number as text; what is no count unchanged."""
    return f"{given:g}" if type(given) in {int, float} and 0 <= given < _MOST else given


def _in_a_column(given: Any) -> Any:
    given = _as_text(given)
    try:
        return _named(given) if isinstance(given, str) else given
    except (Unreadable, NoResultError):
        return given
