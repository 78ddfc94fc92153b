"""Which direction makes an input worse, and which makes an output safer, as each contract declares it."""

from collections.abc import Mapping
from typing import Any, Literal, TypeAlias

__all__ = ["Direction", "Safe", "exceptions_of", "higher", "lower", "safer_of", "undirected_of", "worse_of"]

Direction: TypeAlias = Literal["higher", "lower"]
"""For an input: the direction that makes the situation worse. For an output: the direction that reads as safer."""

Safe: TypeAlias = Direction | bool | tuple[str, ...]
"""What reads as safer: a direction of a number, a value of a flag, or verdicts from the safest to the worst."""


def higher(*names: str) -> dict[str, Any]:
    """Name the fields, with spaces between, whose higher values are worse (inputs) or safer (outputs)."""
    return {name: "higher" for line in names for name in line.split()}


def lower(*names: str) -> dict[str, Any]:
    """Name the fields, with spaces between, whose lower values are worse (inputs) or safer (outputs)."""
    return {name: "lower" for line in names for name in line.split()}


def _merged(struct: type[Any], attribute: str) -> dict[Any, Any]:
    found: dict[Any, Any] = {}
    for base in reversed(struct.__mro__):
        found.update(vars(base).get(attribute, {}))
    return found


def worse_of(struct: type[Any]) -> Mapping[str, Direction]:
    """Return the worse direction of each input of a request, those that it inherits too."""
    return _merged(struct, "worse")


def undirected_of(struct: type[Any]) -> Mapping[str, str]:
    """Return each input or output that has no one direction, with the reason."""
    return {name: reason for reason, names in _merged(struct, "undirected").items() for name in names.split()}


def exceptions_of(struct: type[Any]) -> Mapping[tuple[str, str], str]:
    """Return the pairs of input and output for which the rule does not hold, with the reason."""
    return _merged(struct, "exceptions")


def safer_of(struct: type[Any]) -> Mapping[str, Safe]:
    """Return what reads as safer, by field of an answer."""
    return _merged(struct, "safer")
