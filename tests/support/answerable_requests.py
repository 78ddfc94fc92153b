"""Asked within the bounds of its fields, a calculation answers with numbers or refuses by the name of a field."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import msgspec

from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import calculations
from dosewright.engine.run import answer

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

__all__ = ["assert_answered_or_refused_by_name"]


def assert_answered_or_refused_by_name(path: str, request: Mapping[str, Any]) -> None:
    """Ask, and see that every number is finite, or that every fault names a field."""
    try:
        given_back = answer(calculations()[path], request)
    except RequestRefused as refusal:
        for fault in refusal.faults:
            assert fault.pointer.strip("/"), (fault, request)
            assert fault.code not in {"outside_model", "result_not_finite"}, (fault, request)
    else:
        assert all(math.isfinite(number) for number in _numbers(msgspec.to_builtins(given_back))), request


def _numbers(tree: Any) -> Iterator[float]:
    """Every number of an answer."""
    if isinstance(tree, float):
        yield tree
    elif isinstance(tree, dict):
        for name, branch in tree.items():
            if name not in {"inputs", "units"}:
                yield from _numbers(branch)
    elif isinstance(tree, list):
        for branch in tree:
            yield from _numbers(branch)
