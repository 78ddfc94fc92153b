"""Answers as pint quantities, for those who calculate on with pint.

pint is imported when this is first used, and the caller's own registry is taken, so that quantities can be mixed.
"""

import re
from functools import cache
from typing import Any

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.tables import table

__all__ = ["as_pint"]

_OFFSET = frozenset({"degC", "degF"})


@cache
def _expressions() -> dict[str, str]:
    return {row["symbol"]: row["pint"] for row in table("units").rows}


def as_pint(answer: Answer | BatchAnswer[Any], field: str, registry: Any = None) -> Any:
    """Return one value of an answer as a pint quantity.

    Parameters
    ----------
    answer : Answer or BatchAnswer
        What a calculation answered.
    field : str
        Name of a number in it; in a list, ``list.index.field``.
    registry : pint.UnitRegistry, optional
        Registry to make the quantity in; the application's own when absent.

    Returns
    -------
    pint.Quantity
        The value, or a column's array, in the answer's unit.

    Raises
    ------
    AttributeError, KeyError, IndexError
        The answer has no such field.
    ValueError
        The field has no value in this answer; the message gives the warnings that explain why.
    """
    if registry is None:
        import pint  # noqa: PLC0415 - an optional extra, and slow to import

        registry = pint.get_application_registry()
    value = answer.columns[field] if isinstance(answer, BatchAnswer) else _at(answer, field)
    if value is None:
        reasons = [warning.message for warning in answer.warnings if warning.field == field.partition(".")[0]]
        raise ValueError(" ".join([f"{field} has no value in this answer.", *reasons]))
    symbol = answer.units.get(re.sub(r"\.\d+(?=\.)", "", field), "1")
    expression = _expressions()[symbol]
    if symbol in _OFFSET:
        return registry.Quantity(value, expression)
    return value * registry.parse_expression(expression)


def _at(value: Any, path: str) -> Any:
    for part in path.split("."):
        value = value[int(part)] if part.isdigit() else getattr(value, part)
    return value
