"""What is wrong with a request: one record a fault, and the exception that carries them all."""

from collections.abc import Iterable

import msgspec

__all__ = ["MOST_FAULTS", "Fault", "RequestRefused", "more_faults", "pointer_to"]

MOST_FAULTS = 50
"""How many faults are reported at once."""


class Fault(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One fault of a request.

    Attributes
    ----------
    pointer : str
        JSON pointer to the invalid value, e.g. ``/vessels/0/diameter``.
    code : str
        Stable, machine-readable name of the fault.
    message : str
        What is wrong and how to fix it.
    given : str, optional
        What was sent, shortened.
    allowed : str or list of str, optional
        What would be accepted.
    rows : list of int, optional
        In a batch: the rows (from 0) that have this fault; absent where it concerns the whole request.
    """

    pointer: str
    code: str
    message: str
    given: str | None = None
    allowed: str | list[str] | None = None
    rows: list[int] | None = None


class RequestRefused(ValueError):  # noqa: N818 - the request is invalid, nothing went wrong here
    """A request that cannot be answered, with every fault found in it.

    Attributes
    ----------
    faults : tuple of Fault
        All faults, in the order of the request's fields.
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(f"{fault.pointer}: {fault.message}" for fault in self.faults))


def more_faults(rows: list[int] | None = None) -> Fault:
    """Return the fault that replaces those that are not reported."""
    message = f"There are more than {MOST_FAULTS} faults. Fix these first."
    return Fault(pointer="", code="more_faults", message=message, rows=rows)


def pointer_to(at: str, name: str) -> str:
    """Return the JSON pointer of a member, shortened where the name is very long.

    Parameters
    ----------
    at : str
        Pointer of what holds it, with a closing slash.
    name : str
        Name of the member.
    """
    shown = name if len(name) <= 64 else f"{name[:40]}…"
    return at + shown.replace("~", "~0").replace("/", "~1")
