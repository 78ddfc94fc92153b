"""Room to draw a lamp and its sleeve out of a chamber."""

from __future__ import annotations

import numpy as np

from dosewright.core.arrays import Values, refuse_unless
from dosewright.core.bounds import refuse_unless_positive

__all__ = ["lamp_clearance"]


def lamp_clearance(lamp_length: Values, sleeve_length: Values, hand_clearance: Values) -> Values:
    """Room in front of the chamber's end for a straight pull of lamp and sleeve, neither of which bends.

    Parameters
    ----------
    lamp_length : float or array
        Whole length of the lamp with its caps. [m]
    sleeve_length : float or array
        Whole length of the sleeve. [m]
    hand_clearance : float or array
        Room for a hand and a tool behind it. [m]

    Returns
    -------
    float or array
        Room from the end of the chamber. [m]

    Raises
    ------
    ValueError
        A length is not finite and above zero, or the room for the hand is negative.

    Notes
    -----
    The longer of both, until its far end has left the chamber, plus room for the hand. The end of the lamp outside the
    chamber is not subtracted, which overestimates the room.

    Source
    ------
    Definition: geometry.
    """
    refuse_unless_positive("lamp length", lamp_length)
    refuse_unless_positive("sleeve length", sleeve_length)
    refuse_unless((hand_clearance >= 0.0) & (hand_clearance < np.inf), "hand room must be finite and not negative")
    return np.maximum(lamp_length, sleeve_length) + hand_clearance
