"""Bleach for a small volume of water in an emergency."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive

if TYPE_CHECKING:
    from dosewright.core.arrays import Array

__all__ = ["drops_per_volume"]


def drops_per_volume(strength: Values, strengths: Array, drops: Array) -> Values:
    """Interpolate drops of bleach in one volume of water between the strengths of published leaflets.

    Parameters
    ----------
    strength : float or array
        Strength of the bleach, at least the weakest published [any unit].
    strengths : array
        Published strengths, rising [same unit].
    drops : array
        Drops published for each, none more than for a weaker bleach.

    Returns
    -------
    float or array
        Drops, linear in their logarithm over that of the strength: as for one mass of chlorine between two strengths.
        For bleach stronger than the table, its last amount is used, which is more chlorine.

    Raises
    ------
    ValueError
        The strength is weaker than the table, or the table does not fall.

    Source
    ------
    Derived here: straight between the strengths of the caller's table, in logarithms.
    """
    refuse_unless_positive("strength", strength)
    if not (strengths[1:] > strengths[:-1]).all() or not (drops[1:] <= drops[:-1]).all():
        raise ValueError("strengths must rise and drops must not")
    refuse_unless(strength >= strengths[0] * (1.0 - 1e-9), "strength is below the table")
    return np.exp(np.interp(np.log(strength), np.log(strengths), np.log(drops)))[()]
