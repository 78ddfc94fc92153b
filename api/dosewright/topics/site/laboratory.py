"""Results as a laboratory prints them: absent, <1, >200.5, ND, TNTC, 0.4 NTU, 31 mg/L as NO3, 14 mg/L NO3-N, 87 %/cm.

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
from dosewright.engine.fields.field import Field, Printed, Reading, Refs, Structs, quoted
from dosewright.engine.fields.measure import Measure, MeasureField, holds_texts
from dosewright.engine.fields.unread import NOT_GIVEN
from dosewright.quantities import Unreadable, read
from dosewright.tables.site import water_limits
from dosewright.topics.chlorine.coliform import (
    ABSENT,
    COUNT_PATTERN,
    NoResultError,
    count_of,
    refuse_no_result,
    typed,
)

__all__ = ["CALCIUM_CARBONATE", "NITRATE", "Laboratory", "LaboratoryField", "as_quantity", "laboratory_pattern"]

_NITROGEN_IN_NITRATE = 14.0067 / 62.0049  # molar masses of N and NO3, IUPAC 2021
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?")
_SIGN = re.compile(r"[<>]=?")
# A quantity, and what it is expressed as: "as N" behind anything, a bare formula only behind a unit.
_AS = re.compile(r"(.*?)\s*\(?\bas\s+([A-Za-z][A-Za-z0-9-]*)\)?", re.IGNORECASE)
_FORMULA = re.compile(
    r"([0-9.eE+-]+\s*[A-Za-zµμ]+/[A-Za-z]+|[0-9.eE+-]+\s*pp[mb])(?:\s+|\s*\()([A-Za-z][A-Za-z0-9-]*)\)?"
)
_PERCENT = re.compile(r"%\s*T?\s*(?:(?:/|per )\s*cm)?$", re.IGNORECASE)
_ABSORBANCE = re.compile(r"(?:1\s*)?/\s*cm|cm-1|cm\^-1|au?(?:\s*/\s*cm)?|abs", re.IGNORECASE)
_FIGURE = r"[0-9]+(?:\.[0-9]+)?"
_CLOSE = 1e-9
_LONGEST = 64
_FORMULAS = {"n": "N", "no3": "NO3", "no3-n": "NO3-N", "caco3": "CaCO3", "so4": "SO4", "h2s": "H2S"}


@dataclass(frozen=True)
class Laboratory(Measure):
    """A quantity as a laboratory reports it, also in words.

    Attributes
    ----------
    worse : {"higher", "lower", "either"}
        Which side of the value is worse. A bound on that side is rejected; with either, every bound.
    species : pairs of str and float
        What the result can be expressed as ("as N"), in lower case, with the factor to the field's unit.
    converted : pairs of str and str
        What it is also reported as, in lower case, with how to convert it; rejected with that advice.
    names : tuple of str
        Words for the unit of a plain number, such as NTU.
    """

    worse: Literal["higher", "lower", "either"] = "higher"
    species: tuple[tuple[str, float], ...] = ()
    converted: tuple[tuple[str, str], ...] = ()
    names: tuple[str, ...] = ()

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        """Return the reader of a request's field."""
        del hint, structs
        return LaboratoryField(name, default, self)


NITRATE = (
    *((name, 1.0) for name in ("n", "no3-n", "nitrogen")),
    *((name, _NITROGEN_IN_NITRATE) for name in ("no3", "nitrate")),
)
"""Nitrate as nitrogen or as nitrate."""

CALCIUM_CARBONATE = (("caco3", 1.0),)
"""Hardness and alkalinity."""


def laboratory_pattern(measure: Laboratory) -> str:
    """Return the regular expression of what a laboratory prints for a field, apart from plain quantities."""
    dimension = measure.quantity.dimension
    if dimension == "count":
        return f"^(?:{COUNT_PATTERN}|[Nn]ot tested)$"
    if dimension == "share":
        return "^(?:>? ?[1-9][0-9]? ?%(?:/cm|T)?|[Nn]ot tested)$"
    sign = "" if measure.worse == "either" else "<? ?"
    unit = f"(?: ?(?:{'|'.join(measure.names)}))?" if dimension == "plain" else " mg/L"
    names = {"n": "N", "no3": "NO3", "no3-n": "NO3-N", "caco3": "CaCO3"}
    species = "|".join(names[name] for name, _ in measure.species if name in names)
    return f"^(?:{sign}{_FIGURE}{unit}{f'(?: (?:as )?(?:{species}))?' if species else ''}|[Nn]ot tested)$"


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
        if type(given) in {int, float} and _is_word(given, self.kind.dimension, reading.profile):
            given = f"{given:.15g}"
        if isinstance(given, str) and len(given) <= _LONGEST:
            return self._read_printed(given, at, reading)
        if isinstance(given, (list, tuple)) or (isinstance(given, np.ndarray) and holds_texts(given)):
            entries = list(cast("Iterable[Any]", given))
            return super().read(self._column(entries, measure, at, reading), at, reading)
        return super().read(given, at, reading)

    def _read_printed(self, given: str, at: str, reading: Reading) -> Any:
        try:
            plain = as_quantity(given, cast("Laboratory", self.measure))
            self._decide(given, plain, reading)
        except Unreadable as fault:
            reading.fault(at + self.name, fault.code, fault.message, given, fault.allowed)
            return None
        except NoResultError as none:
            if none.reason:
                reading.defaults[self.name] = reading.undecided[self.name] = none.reason
                reading.query_parameters.append(f"{self.name}={quoted(given.strip())}")
            return NOT_GIVEN
        value = super().read(plain, at, reading)
        if value is not None and plain != given.strip():
            start = f"{self.name}="
            shown = "" if reading.batch else reading.query_parameters.pop().removeprefix(start)
            reading.printed[self.name] = Printed(given.strip(), shown)
            if not reading.batch:
                reading.query_parameters.append(f"{start}{quoted(given.strip())}")
        return value

    def _column(self, entries: list[Any], measure: Laboratory, at: str, reading: Reading) -> list[Any]:
        plain: list[Any] = []
        for row, entry in enumerate(entries):
            one = entry
            if isinstance(entry, str) and len(entry) <= _LONGEST:
                try:
                    one = as_quantity(entry, measure)
                    self._decide(entry, one, reading)
                except Unreadable as fault:
                    # The row has no value: the column's reader leaves it out, and this fault gives the reason.
                    reading.row_faults.append(_row_fault(at + self.name, fault, entry, row))
                    one = None
                except NoResultError as none:
                    reason = none.reason or "Not tested in this row. Send rows without this result in another batch."
                    fault = Unreadable("detection_limit_too_high" if none.reason else "not_tested", reason)
                    reading.row_faults.append(_row_fault(at + self.name, fault, entry, row))
                    one = None
            plain.append(one)
        return plain

    def _decide(self, printed: str, plain: str, reading: Reading) -> None:
        """Record a bound that is taken as its value; reject one that does not show whether the limit is met."""
        sign = typed(printed)[:1]
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


def _is_word(given: float, dimension: str, profile: str | None) -> bool:
    """Return whether a bare number needs no unit (no bacteria), or is a fraction where a percentage is expected."""
    return (dimension == "count" and given == 0) or (dimension == "share" and profile != "si" and 0.0 < given < 1.0)


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
    NoResultError
        It was not tested, or a bound does not decide.
    """
    dimension = measure.quantity.dimension
    if dimension == "count":
        return count_of(text)
    bare = typed(text)
    refuse_no_result(bare)
    if re.sub(r"\s+\S*/\S*$|\s+%$", "", bare).lower().rstrip(".") in ABSENT:
        message = (
            f'"{bare[:40]}" needs the detection limit of the test. Write it with "<", for example <0.005 mg/L. '
            "Without it the amount is unknown, not zero."
        )
        raise Unreadable("detection_limit_needed", message)
    lead = _SIGN.match(bare)
    sign = lead[0] if lead else ""
    figure = bare[len(sign) :].strip()
    if sign and figure[:1] in {"<", ">", "=", "-"}:
        raise Unreadable("not_a_quantity", f'"{bare[:40]}" is not a laboratory result. Write one sign and a number.')
    _refuse_wrong_bound(bare, sign[:1], measure)
    if dimension == "plain":
        names = "|".join(re.escape(name) for name in measure.names)
        return re.sub(rf"\s*(?:{names})$", "", figure, flags=re.IGNORECASE) if names else figure
    if dimension == "share":
        return _transmittance(figure)
    return _expressed(figure, measure)


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


def _transmittance(figure: str) -> str:
    """Return a transmittance in percent.

    Raises
    ------
    Unreadable
        It is a fraction, or an absorbance.
    """
    number = _NUMBER.match(figure)
    if number is None:
        return figure
    value, unit = float(number[0]), figure[number.end() :].strip()
    if not unit and 0.0 < value < 1.0:
        message = f"{number[0]} has no unit. UVT is a percentage: do you mean {100.0 * value:.10g} %?"
        raise Unreadable("unit_missing", message, ["%"])
    if _ABSORBANCE.fullmatch(unit):
        share = f": {100.0 * 10.0**-value:.3g} %" if 0.0 <= value <= 2.0 else ""
        message = (
            f'"{figure[:40]}" is an absorbance, not a transmittance. Enter the transmittance over 1 cm, which is '
            f"100 x 10^-absorbance{share} (for an absorbance to base 10)."
        )
        raise Unreadable("expressed_as", message, ["%"])
    return _PERCENT.sub("%", figure)


def _expressed(figure: str, measure: Laboratory) -> str:
    expressed = _AS.fullmatch(figure) or _FORMULA.fullmatch(figure)
    if expressed is None:
        amount, _, formula = figure.partition(" ")
        if _NUMBER.fullmatch(amount) and formula.lower() in dict(measure.species):
            message = f'"{figure[:40]}" has no unit. Write it as, for example, {amount} mg/L as {formula}.'
            raise Unreadable("unit_missing", message, list(measure.quantity.symbols))
        return figure
    factors: Mapping[str, float] = dict(measure.species)
    name, quantity = expressed[2], expressed[1].strip()
    factor = factors.get(name.lower())
    if factor is None:
        raise Unreadable(
            "expressed_as", f'"as {name[:20]}" does not apply to this parameter: {_advice(name, measure)}.'
        )
    number = _NUMBER.match(quantity)
    if factor == 1.0 or number is None:
        return quantity
    return f"{float(number[0]) * factor!r}{quantity[number.end() :]}"


def _advice(name: str, measure: Laboratory) -> str:
    """Return how to write a result that is expressed as something else."""
    convert = dict(measure.converted).get(name.lower())
    if convert:
        return convert
    # Formulas are written in their own capitals: the names of the fields' species.
    known = " or ".join(f'"as {_FORMULAS.get(name, name)}"' for name, _ in measure.species)
    return f"write it {known}" if known else 'enter it as the element itself, without "as"'
