"""Recomputes every published check value that ships, through the same calculations that answer requests."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import msgspec

from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import run
from dosewright.engine.writing import numeric_names
from dosewright.tables import check_names, checks

__all__ = ["Verdict", "verdicts"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """One published value against the one computed here.

    Attributes
    ----------
    check : Mapping
        The row of the check table, with its source.
    computed : float or None
        The value computed, in the published unit; None if the calculation failed.
    within : bool
        Whether it is within the tolerance that the printed digits allow.
    reason : str
        Why nothing was computed.
    """

    check: Any
    computed: float | None
    within: bool
    reason: str = ""

    @property
    def published(self) -> float:
        """The value as published."""
        return float(self.check["published"])

    @property
    def deviation(self) -> float | None:
        """Computed less published."""
        return None if self.computed is None else self.computed - self.published


def verdicts(topics: Sequence[str] = (), *, target: str | None = None) -> Iterator[Verdict]:
    """Yield a verdict on each check value.

    Parameters
    ----------
    topics : sequence of str
        Names of check tables; all of them when empty.
    target : str, optional
        Path of the only calculation whose values are returned.

    Raises
    ------
    FileNotFoundError
        No check table has that name.
    """
    for topic in topics or check_names():
        for check in checks(topic):
            if target is None or check["target"] == target:
                yield _verdict(check)


def _verdict(check: Any) -> Verdict:
    request = msgspec.json.decode(check["inputs"])
    field = check["field"]
    unit_name = re.sub(r"\.\d+(?=\.)", "", field)
    if check["unit"] and unit_name in numeric_names(find(check["target"]).answer):
        request = {**request, "answer_units": {unit_name: check["unit"]}}
    try:
        value = _at(run(check["target"], request), field)
    except RequestRefused as refused:
        return Verdict(check, None, within=False, reason=str(refused))
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return Verdict(check, None, within=False, reason=f"{field} is {value!r}, not a number")
    return Verdict(check, float(value), within=abs(value - float(check["published"])) <= float(check["tolerance"]))


def _at(value: Any, path: str) -> Any:
    for part in path.split("."):
        value = value[int(part)] if part.isdigit() else getattr(value, part)
    return value
