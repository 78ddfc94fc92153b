"""Parameters of an address that choose the form of an answer, not what is calculated."""

import re
from collections.abc import Mapping
from typing import Any, cast

from dosewright.engine.faults import Fault
from dosewright.http.formats import View
from dosewright.http.problems import ProblemError

__all__ = ["CONTROLS", "reading_commas", "view_of", "wants_text_errors"]

CONTROLS: Mapping[str, tuple[str, ...]] = {
    "format": (),
    "pick": (),
    "decimal": ("point", "comma"),
    "errors": ("text",),
    "paper": ("a4", "letter"),
}
"""Names of the controls; those with a closed set of values name it."""

_PLAIN = View()
_POINT_IN_NUMBER = re.compile(r"[0-9]\.[0-9]")
_COMMA_IN_NUMBER = re.compile(r"(?<=[0-9]),(?=[0-9])")


def view_of(controls: Mapping[str, str]) -> View:
    """Return the requested form of the answer.

    Raises
    ------
    ProblemError
        A control has a value that it does not take.
    """
    if not controls:
        return _PLAIN
    for name, allowed in CONTROLS.items():
        given = controls.get(name)
        if allowed and given is not None and given not in allowed:
            message = f"{name} takes: {', '.join(allowed)}."
            fault = Fault(
                pointer=f"/{name}", code="unknown_choice", message=message, given=given[:64], allowed=list(allowed)
            )
            raise ProblemError("invalid-request", message, [fault])
    paper = "letter" if controls.get("paper") == "letter" else "a4"
    return View(controls.get("pick"), controls.get("decimal") == "comma", paper)


def wants_text_errors(query_string: bytes) -> bool:
    """Return whether errors are sent as a text with status 200, for functions that hide an error's body."""
    return b"errors=text" in query_string.split(b"&")


def reading_commas(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return query values in which a comma marks decimals, with points in their place.

    Raises
    ------
    ProblemError
        A number holds a point, which would mark thousands to one reader and decimals to another.
    """
    faults = [
        Fault(
            pointer=f"/{name}",
            code="decimal_point",
            message="With decimal=comma, write a comma for decimals and no point.",
            given=text[:64],
        )
        for name, value in values.items()
        for text in (cast("list[str]", value) if isinstance(value, list) else [value])
        if name != "answer_units" and _POINT_IN_NUMBER.search(text)
    ]
    if faults:
        raise ProblemError("invalid-request", faults[0].message, faults)
    return {
        name: [_COMMA_IN_NUMBER.sub(".", text) for text in cast("list[str]", value)]
        if isinstance(value, list)
        else _COMMA_IN_NUMBER.sub(".", value)
        for name, value in values.items()
    }
