"""The query of an address as plain data."""

from typing import Any
from urllib.parse import parse_qsl

from dosewright.faults import Fault
from dosewright.service.controls import CONTROLS
from dosewright.service.problems import ProblemError

__all__ = ["parse"]

_MOST_PARAMETERS = 1000


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
        if name in repeatable:
            values.setdefault(name, []).append(value)
        elif name in target:
            message = f"{name[:64]} stands more than once; it takes one value."
            fault = Fault(pointer=f"/{name[:64]}", code="repeated", message=message)
            raise ProblemError("invalid-request", message, [fault])
        else:
            target[name] = value
    return values, controls
