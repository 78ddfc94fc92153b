"""Method sheets: equations, symbols, inputs, sources and validity, and the check values with their deviation today."""

import datetime as dt
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, NamedTuple

from dosewright.engine.base import Basis
from dosewright.engine.check_values import Verdict, verdicts
from dosewright.engine.directions import exceptions_of, safer_of, undirected_of, worse_of
from dosewright.engine.fields import MISSING
from dosewright.engine.reading.reader import description_of, reader_for
from dosewright.engine.registry import Calculation, find
from dosewright.engine.run import run
from dosewright.http.page.methods import Method, method
from dosewright.present.blocks import Table

__all__ = ["sheet"]


class DirectionLine(NamedTuple):
    """A line that shows in which direction inputs are worse or outputs safer: words, names, words."""

    label: str
    names: tuple[str, ...]
    more: str = ""
    between: str = ", "


def sheet(path: str) -> dict[str, Any]:
    """Return what the template of a method sheet shows.

    Raises
    ------
    KeyError
        No calculation has this path.
    """
    entry = find(path)
    written = method(path)
    day, checked = _verdicts(path)
    return {
        "entry": entry,
        "paragraphs": [" ".join(part.split()) for part in entry.description.replace("`", "").split("\n\n")],
        "method": written,
        "inputs": _inputs(entry),
        "directions": list(_directions(entry)),
        "sources": _sources(entry),
        "settled": _settled(written),
        "checks": _checks(checked),
        "met": sum(verdict.within for verdict in checked),
        "day": day.isoformat(),
    }


def _inputs(entry: Calculation[Any, Any]) -> Table:
    reader = reader_for(entry.request)
    rows: list[tuple[str, ...]] = []
    for field in reader.fields:
        needed = "needed" if field.default is MISSING else field.default_text or "optional"
        rows.append((field.name, description_of(reader.struct, field.name).doc, field.limits, needed))
    return Table("", ("input", "meaning", "allowed", "default"), tuple(rows))


def _directions(entry: Calculation[Any, Any]) -> Iterator[DirectionLine]:
    """Yield which direction makes each input worse and each output safer: a worse input never gives a safer answer."""
    for label, found in (("Worse", worse_of(entry.request)), ("Safer", safer_of(entry.answer))):
        for direction in ("higher", "lower"):
            names = _directed(found, direction)
            if names:
                yield DirectionLine(f"{label} when {direction}:", names)
    for name, safe in safer_of(entry.answer).items():
        if isinstance(safe, bool):
            yield DirectionLine(f"Safer when {'true' if safe else 'false'}:", (name,))
        elif isinstance(safe, tuple):
            yield DirectionLine("From safest to worst,", (name,), f": {', '.join(safe)}")
    for name, reason in {**undirected_of(entry.request), **undirected_of(entry.answer)}.items():
        yield DirectionLine("No one direction:", (name,), f" ({reason})")
    for names, reason in exceptions_of(entry.request).items():
        yield DirectionLine("Exception:", names, f": {reason}", between=" and ")


def _directed(directions: Mapping[str, Any], direction: str) -> tuple[str, ...]:
    return tuple(name for name, found in directions.items() if found == direction)


def _sources(entry: Calculation[Any, Any]) -> Table:
    basis: list[Basis] = run(entry.path, entry.example).basis
    rows = tuple((one.method, one.source, one.validity) for one in basis)
    return Table("", ("method", "source", "valid for"), rows)


def _settled(written: Method) -> Table:
    return Table("", ("table", "value used"), written.settled)


@cache
def _verdicts(path: str) -> tuple[dt.date, tuple[Verdict, ...]]:
    return dt.datetime.now(dt.UTC).date(), tuple(verdicts(target=path))


def _checks(found: tuple[Verdict, ...]) -> Table:
    columns = ("value", "published", "computed", "deviation", "allowed", "verdict", "source")
    return Table("", columns, tuple(_check(verdict) for verdict in found))


def _check(verdict: Verdict) -> tuple[str, ...]:
    check = verdict.check
    source = ", ".join(part for part in (check["source"], check["section"], check["year"], check["status"]) if part)
    return (
        check["field"],
        f"{check['published']} {check['unit']}".strip(),
        "–" if verdict.computed is None else f"{verdict.computed:.12g}",
        "–" if verdict.deviation is None else f"{verdict.deviation:+.2g}",
        f"±{check['tolerance']}",
        "met" if verdict.within else "MISSED",
        source,
    )
