"""Dangers and faults as a person reads them in a terminal."""

import sys
from collections.abc import Iterable

from dosewright.engine.base import Caution
from dosewright.engine.faults import Fault
from dosewright.present.text import wrapped

__all__ = ["print_cautions", "print_faults"]


def print_cautions(cautions: Iterable[Caution]) -> None:
    """Print the dangers to standard error, since rows have no place for them."""
    for caution in cautions:
        print(wrapped(f"Caution: {caution.message}"), file=sys.stderr)


def print_faults(faults: Iterable[Fault], detail: str = "") -> None:
    """Print every fault to standard error, by the option it concerns, with how to fix it."""
    listed = list(faults)
    if not listed:
        print(detail, file=sys.stderr)
    for fault in listed:
        where = _option(fault.pointer)
        print(wrapped(f"{where}{fault.message}", "    "), file=sys.stderr)
        if fault.allowed:
            allowed = fault.allowed if isinstance(fault.allowed, str) else ", ".join(fault.allowed)
            print(wrapped(f"allowed: {allowed}", "    ", "    "), file=sys.stderr)


def _option(pointer: str) -> str:
    parts = [part.replace("~1", "/").replace("~0", "~") for part in pointer.strip("/").split("/") if part]
    if not parts:
        return ""
    named = [f"item {int(part) + 1}" if part.isdigit() else part for part in parts[1:]]
    return f"{', '.join(['--' + parts[0].replace('_', '-'), *named])}: "
