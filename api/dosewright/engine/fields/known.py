"""A number in SI that one part of a calculation gives another, in place of a caller's words."""

__all__ = ["Known"]


class Known:
    """A number in SI where a request can have a quantity.

    Attributes
    ----------
    value : float
        In the SI profile's unit.
    shown : str
        How the section's question shows it, as written in a query. It reads back to the same number. Empty: in SI.
    """

    __slots__ = ("shown", "value")

    def __init__(self, value: float, shown: str = "") -> None:
        self.value = value
        self.shown = shown
