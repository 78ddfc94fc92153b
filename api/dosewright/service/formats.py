"""Answers as bytes: one entry a format, chosen by ``?format=`` or the Accept header.

A further format is one function and one row of :data:`FORMATS`.
"""

import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, cast

import msgspec
import numpy as np

from dosewright.contracts.base import Answer, BatchAnswer
from dosewright.contracts.writing import answer_fields
from dosewright.faults import Fault, nearest
from dosewright.service.problems import ProblemError

__all__ = ["FORMATS", "Format", "choose", "flat_names"]


def _hook(value: Any) -> Any:
    # Columns of a batch are arrays; not a number means a row at fault and is written as null.
    if isinstance(value, np.ndarray):
        return cast("Any", value).tolist()
    raise NotImplementedError(f"no JSON form of {value!r}")


_ENCODER = msgspec.json.Encoder(enc_hook=_hook)


def _json(answer: Any, pick: str | None) -> bytes:
    _refuse_pick(pick, "json")
    return _ENCODER.encode(answer)


def _csv(answer: Any, pick: str | None) -> bytes:
    _refuse_pick(pick, "csv")
    rows = _rows(answer) if isinstance(answer, Answer) else _batch_rows(answer)
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue().encode()


def _text(answer: Any, pick: str | None) -> bytes:
    if isinstance(answer, BatchAnswer):
        raise ProblemError("not-acceptable", "A batch answers as JSON or CSV, not as one text.")
    return _spoken(_picked(answer, pick)).encode()


def _refuse_pick(pick: str | None, name: str) -> None:
    if pick is not None:
        message = f"pick takes one value out of a text answer; with format={name} leave it out."
        raise ProblemError("invalid-request", message, [Fault(pointer="/pick", code="not_allowed", message=message)])


def _cell(value: Any) -> Any:
    """Return a cell; a text that a spreadsheet would take for a formula is put behind an apostrophe."""
    if value is None or (isinstance(value, float) and value != value):
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, str) and value[:1] in {"=", "+", "-", "@", "\t", "\r"}:
        return f"'{value}"
    return value


def _leaves(value: Any, name: str) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, inner in cast("dict[str, Any]", value).items():
            yield from _leaves(inner, f"{name}.{key}" if name else key)
    elif isinstance(value, list):
        for index, inner in enumerate(cast("list[Any]", value)):
            yield from _leaves(inner, f"{name}.{index}")
    else:
        yield name, value


def flat_names(answer: type[Any], prefix: str = "") -> Iterator[str]:
    """Yield the names of an answer's own values as they are picked; items of lists stand under index 0."""
    for field in answer_fields(answer):
        if field.struct is None:
            yield prefix + field.name
        else:
            yield from flat_names(field.struct, f"{prefix}{field.name}.{'0.' if field.many else ''}")


def _own(answer: Answer) -> Iterator[tuple[str, Any]]:
    plain = msgspec.to_builtins(answer)
    own = {field.name: plain[field.name] for field in answer_fields(type(answer))}
    yield from _leaves(own, "")


def _unit_of(name: str, units: dict[str, str]) -> str:
    return units.get(".".join(part for part in name.split(".") if not part.isdigit()), "")


def _rows(answer: Answer) -> Iterator[list[Any]]:
    yield ["field", "value", "unit"]
    for name, value in _own(answer):
        yield [name, value, _unit_of(name, answer.units)]
    for index, warning in enumerate(answer.warnings):
        yield [f"warnings.{index}", warning.message, ""]
    for index, caution in enumerate(answer.cautions):
        yield [f"cautions.{index}", caution.message, ""]
    yield ["question", answer.question, ""]
    yield ["version", answer.version, ""]


def _batch_rows(answer: BatchAnswer[Any]) -> Iterator[list[Any]]:
    names = list(answer.columns)
    units = [_unit_of(name, answer.units) for name in names]
    yield ["row", *(f"{name} [{unit}]" if unit else name for name, unit in zip(names, units, strict=True)), "error"]
    wrong: dict[int, str] = {}
    for fault in answer.errors:
        for row in fault.rows or ():
            wrong[row] = f"{wrong[row]} {fault.message}" if row in wrong else f"{fault.pointer}: {fault.message}"
    lists = [cast("list[Any]", np.asarray(answer.columns[name]).tolist()) for name in names]
    for row, values in enumerate(zip(*lists, strict=True)):
        yield [row, *values, wrong.get(row, "")]


def _picked(answer: Answer, pick: str | None) -> Any:
    if pick == "warnings":
        return " ".join(warning.message for warning in answer.warnings)
    if pick == "cautions":
        return " ".join(caution.message for caution in answer.cautions)
    # The common case needs no copy of the whole answer.
    if pick in answer.__struct_fields__ and isinstance(getattr(answer, pick), (float, str, bool)):
        return getattr(answer, pick)
    leaves = dict(_leaves(msgspec.to_builtins(answer), ""))
    if pick is not None and pick in leaves:
        return leaves[pick]
    allowed = [*dict(_own(answer)), "warnings", "cautions", "units.<field>"]
    guess = nearest(pick, allowed) if pick else None
    hint = f" Did you mean {guess!r}?" if guess else ""
    code = "unknown_field" if pick else "required"
    message = f"pick names the value of the answer to return as text.{hint}"
    fault = Fault(pointer="/pick", code=code, message=message, given=pick and pick[:64], allowed=allowed)
    raise ProblemError("invalid-request", message, [fault])


def _spoken(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return repr(value) if isinstance(value, float) else str(value)


@dataclass(frozen=True, slots=True)
class Format:
    """A form of answer."""

    name: str
    media_type: str
    render: Callable[[Any, str | None], bytes]


FORMATS: dict[str, Format] = {
    "json": Format("json", "application/json", _json),
    "csv": Format("csv", "text/csv; charset=utf-8", _csv),
    "text": Format("text", "text/plain; charset=utf-8", _text),
}
_BY_MEDIA_TYPE = {entry.media_type.partition(";")[0]: entry for entry in FORMATS.values()}


def choose(controls: dict[str, str], accept: str) -> Format:
    """Return the format asked for.

    Parameters
    ----------
    controls : dict
        May hold ``format`` and ``pick``; these win over the header, and ``pick`` alone means text.
    accept : str
        The Accept header, or nothing.

    Raises
    ------
    ProblemError
        An unknown format, or nothing acceptable.
    """
    name = controls.get("format")
    if name is not None:
        chosen = FORMATS.get(name)
        if chosen is None:
            message = f"{name[:64]!r} is not a format known here."
            fault = Fault(pointer="/format", code="unknown_choice", message=message, allowed=list(FORMATS))
            raise ProblemError("invalid-request", message, [fault])
        return chosen
    if "pick" in controls:
        return FORMATS["text"]
    if not accept or accept == "*/*" or accept == "application/json":
        return FORMATS["json"]
    return _by_accept(accept)


def _by_accept(accept: str) -> Format:
    wanted: list[tuple[float, int, str]] = []
    for order, part in enumerate(accept.split(",")):
        media, *parameters = [piece.strip() for piece in part.split(";")]
        quality = next((p[2:] for p in parameters if p.startswith("q=")), "1")
        try:
            wanted.append((-float(quality), order, media.lower()))
        except ValueError:
            continue
    for quality, _, media in sorted(wanted):
        if not quality:
            break
        if media in {"*/*", "application/*", ""}:
            return FORMATS["json"]
        if media == "text/*":
            return FORMATS["csv"]
        if media in _BY_MEDIA_TYPE:
            return _BY_MEDIA_TYPE[media]
    raise ProblemError("not-acceptable", f"Answers come as: {', '.join(_BY_MEDIA_TYPE)}.")
