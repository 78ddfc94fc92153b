"""The rejection of impossible sizes and amounts."""

from __future__ import annotations

import numpy as np

from dosewright.core.arrays import Values, refuse_unless

__all__ = ["refuse_unless_positive"]


def refuse_unless_positive(name: str, value: Values) -> None:
    """Raise ValueError unless every value is finite and above zero; NaN is rejected too.

    Source
    ------
    Definition: a check, without a formula.
    """
    refuse_unless((value > 0.0) & (value < np.inf), f"{name} must be finite and above zero")
