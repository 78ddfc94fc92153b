"""Pipes that contain water: their bore, checks and basis."""

from collections.abc import Sequence
from typing import Protocol

from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.tables.pipes import PipeSize, pipe_materials
from dosewright.topics.pipe.contracts.velocity import NominalSize, PipeMaterial

__all__ = ["HeldPipe", "bore_of", "check_pipe", "warn_pipes"]


class HeldPipe(Protocol):
    """A pipe by its material and nominal size, or by its bore."""

    @property
    def material(self) -> PipeMaterial | None:
        """Material and series."""
        ...

    @property
    def nominal_size(self) -> NominalSize | None:
        """Nominal size in inches."""
        ...

    @property
    def bore(self) -> Numbers | None:
        """Inside diameter [m]."""
        ...


def _size(pipe: HeldPipe) -> PipeSize | None:
    if pipe.material is None or pipe.nominal_size is None:
        return None
    return pipe_materials()[pipe.material].sizes.get(pipe.nominal_size)


def bore_of(pipe: HeldPipe) -> Numbers:
    """Return the bore [m]."""
    if pipe.bore is not None:
        return pipe.bore
    size = _size(pipe)
    if size is None:
        raise ValueError("a pipe needs its bore, or a material and a size it is made in")
    return size.bore


def check_pipe(pipe: HeldPipe, at: str, notes: Notes) -> None:
    """Refuse a pipe without a bore, with two bores, or of a size that is not made."""
    named = [name for name in ("material", "nominal_size") if getattr(pipe, name) is not None]
    if pipe.bore is not None:
        if named:
            message = "Enter the bore, or the material and nominal size, not both."
            notes.refuse("too_many", f"{at}/bore", message)
        return
    if pipe.material is None or pipe.nominal_size is None:
        missing = "bore" if not named else "nominal_size" if named == ["material"] else "material"
        message = "Enter material and nominal_size, or the bore."
        notes.refuse("required", f"{at}/{missing}", message)
        return
    if _size(pipe) is None:
        sizes = list(pipe_materials()[pipe.material].sizes)
        message = (
            f"{pipe.material} is not in the table in size {pipe.nominal_size} in. Enter another size, or the bore."
        )
        notes.refuse("size_not_listed", f"{at}/nominal_size", message, allowed=sizes)


def warn_pipes(pipes: Sequence[HeldPipe], notes: Notes) -> None:
    """Add the tables that the bores are based on, each once."""
    sources = dict.fromkeys(size.source for pipe in pipes if (size := _size(pipe)) is not None)
    for source in sources:
        notes.add_basis(
            Basis(
                method="bore = outside diameter minus twice the wall of the standard",
                source=source,
                validity="nominal dimensions",
            )
        )
