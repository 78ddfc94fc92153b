"""Answers and faults as a person reads them in a terminal."""

import sys
import textwrap
from collections.abc import Iterable, Iterator

from dosewright.engine.base import Answer, Caution
from dosewright.engine.faults import Fault
from dosewright.present.rows import own_rows, spoken
from dosewright.quantities.durations import SECONDS, as_read

__all__ = ["as_text", "tell_cautions", "tell_faults"]

_WIDTH = 100
_DIGITS = 6


def as_text(answer: Answer) -> str:
    """Return an answer as lines, warnings and cautions first where they are seen, numbers rounded."""
    return "\n".join(_lines(answer)) + "\n"


def _lines(answer: Answer) -> Iterator[str]:
    for title, told in (("Warning", answer.warnings), ("Caution", answer.cautions)):
        for one in told:
            yield textwrap.fill(f"{title}: {one.message}", _WIDTH, subsequent_indent="  ")
    yield ""
    values = [row for row in own_rows(answer) if row[1] is not None]
    width = max(len(name) for name, _, _ in values)
    for name, value, unit in values:
        shown = f"{value:.{_DIGITS}g}" if isinstance(value, float) else spoken(value)
        yield f"{name:<{width}}  {shown} {unit}{_read(value, unit)}".rstrip()
    yield ""
    for basis in answer.basis:
        yield textwrap.fill(f"Method: {basis.method} ({basis.source})", _WIDTH, subsequent_indent="  ")
    used = ", ".join(f"{name} {text}" for name, text in answer.defaults.items())
    if used:
        yield textwrap.fill(f"Defaults used: {used}", _WIDTH, subsequent_indent="  ")
    yield f"Rounded to {_DIGITS} significant figures; --format json or --pick gives all."


def _read(value: object, unit: str) -> str:
    """Return a long time as a person reads it too, in brackets."""
    if not isinstance(value, float) or unit not in SECONDS:
        return ""
    read, larger = as_read(value, unit)
    return f" ({read:.{_DIGITS}g} {larger})" if SECONDS[larger] > SECONDS[unit] else ""


def tell_cautions(cautions: Iterable[Caution]) -> None:
    """Print the dangers to standard error, beside rows that have no place for them."""
    for caution in cautions:
        print(textwrap.fill(f"Caution: {caution.message}", _WIDTH, subsequent_indent="  "), file=sys.stderr)


def tell_faults(faults: Iterable[Fault], detail: str = "") -> None:
    """Print every fault to standard error, by the option it concerns, with how to mend it."""
    told = list(faults)
    if not told:
        print(detail, file=sys.stderr)
    for fault in told:
        where = _option(fault.pointer)
        print(textwrap.fill(f"{where}{fault.message}", _WIDTH, subsequent_indent="    "), file=sys.stderr)
        if fault.allowed:
            allowed = fault.allowed if isinstance(fault.allowed, str) else ", ".join(fault.allowed)
            shown = textwrap.fill(f"allowed: {allowed}", _WIDTH, initial_indent="    ", subsequent_indent="    ")
            print(shown, file=sys.stderr)


def _option(pointer: str) -> str:
    parts = [part.replace("~1", "/").replace("~0", "~") for part in pointer.strip("/").split("/") if part]
    if not parts:
        return ""
    named = [f"item {int(part) + 1}" if part.isdigit() else part for part in parts[1:]]
    return f"{', '.join(['--' + parts[0].replace('_', '-'), *named])}: "
