"""What an answer warns of, and what a refusal names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["codes", "faults"]


def codes(given: Any) -> set[str]:
    """Codes of an answer's warnings."""
    return {warning.code for warning in given.warnings}


def faults(path: str, request: Mapping[str, Any]) -> set[tuple[str, str]]:
    """Pointer and code of each fault that a request is refused for."""
    with pytest.raises(RequestRefused) as refusal:
        run(path, request)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}
