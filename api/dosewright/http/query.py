"""The query of an address as plain data."""

import re
from typing import Any, cast
from urllib.parse import parse_qsl

from dosewright.engine.faults import Fault
from dosewright.engine.fields.section import SectionField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, find
from dosewright.http.controls import CONTROLS
from dosewright.http.problems import ProblemError

__all__ = ["nested", "parse", "repeatable_names", "section_names"]

_MOST_PARAMETERS = 1000
_NUMBER = re.compile(r"\.[0-9]+\.")


def parse(query: bytes, repeatable: frozenset[str]) -> tuple[dict[str, Any], dict[str, str]]:
    """Split a query into the calculation's parameters and the controls.

    Parameters
    ----------
    query : bytes
        As it came, without the question mark.
    repeatable : frozenset of str
        Parameters that are lists, one item a repetition.

    Raises
    ------
    ProblemError
        Not UTF-8, too many parameters, or one repeated that is not a list.
    """
    try:
        pairs = parse_qsl(
            query.decode("ascii"), keep_blank_values=True, errors="strict", max_num_fields=_MOST_PARAMETERS
        )
    except UnicodeError as error:
        detail = "The query must be percent-encoded UTF-8."
        raise ProblemError("unreadable-query", detail) from error
    except ValueError as error:
        detail = f"The query has more than {_MOST_PARAMETERS} parameters."
        raise ProblemError("unreadable-query", detail) from error
    values: dict[str, Any] = {}
    controls: dict[str, str] = {}
    for name, value in pairs:
        target = controls if name in CONTROLS else values
        if name in repeatable or ("." in name and _NUMBER.sub(".", name) in repeatable):
            values.setdefault(name, []).append(value)
        elif name in target:
            message = f"{name[:64]} was given more than once."
            fault = Fault(pointer=f"/{name[:64]}", code="repeated", message=message)
            raise ProblemError("invalid-request", message, [fault])
        else:
            target[name] = value
    return values, controls


def repeatable_names(entry: Calculation[Any, Any]) -> frozenset[str]:
    """Return the parameters of a calculation that can be repeated, those of sections with a point."""
    names: set[str] = set()
    for field in reader_for(entry.request).fields:
        if field.repeats:
            names.add(field.name)
        elif isinstance(field, SectionField):
            inner = find(field.calculation)
            names.update(f"{field.name}.{name}" for name in repeatable_names(inner))
    return frozenset(names)


def section_names(entry: Calculation[Any, Any]) -> frozenset[str]:
    """Return the names of a calculation's sections."""
    return frozenset(field.name for field in reader_for(entry.request).fields if isinstance(field, SectionField))


def nested(values: dict[str, Any], sections: frozenset[str]) -> dict[str, Any]:
    """Gather parameters written ``section.field`` into one mapping a section."""
    plain: dict[str, Any] = {}
    # What is no section's comes first, so that a section written both ways is seen.
    for name, value in sorted(values.items(), key=lambda entry: "." in entry[0]):
        section, point, field = name.partition(".")
        if not point or section not in sections:
            plain[name] = value
            continue
        inside = plain.setdefault(section, {})
        if not isinstance(inside, dict):
            message = f"{section} is a section: write its fields as {section}.field."
            raise ProblemError(
                "invalid-request", message, [Fault(pointer=f"/{section}", code="wrong_type", message=message)]
            )
        number, point, rest = field.partition(".")
        if point and number.isascii() and number.isdigit():
            inner = cast("dict[str, Any]", inside).setdefault(number, {})
            if isinstance(inner, dict):
                inner[rest] = value
        else:
            inside[field] = value
    return plain
