"""Pipe data for a request's material, nominal size and temperature."""

from dataclasses import dataclass
from functools import cache
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes, When
from dosewright.quantities import Numbers
from dosewright.tables.pipes import (
    PipeMaterial,
    VelocityLimit,
    general_velocity_limits,
    pipe_materials,
)

__all__ = [
    "PipeChoice",
    "add_basis_once",
    "bore_of",
    "dimensions",
    "limit_of",
    "published_limit",
    "refuse_unclear_bore",
    "sizes_of",
]

_WATER = {"cold": "cold water", "hot": "hot water", "very_hot": "water above 140 degF", "any": "water"}


class PipeChoice(Protocol):
    """The fields that identify a pipe in a request."""

    @property
    def material(self) -> str | None:
        """Material."""
        ...

    @property
    def nominal_size(self) -> str | None:
        """Nominal size."""
        ...

    @property
    def bore(self) -> Numbers | None:
        """Bore [m]."""
        ...


def refuse_unclear_bore(choice: PipeChoice, notes: Notes, at: str = "", *, when: When = True) -> None:
    """Refuse a pipe without a bore or with two; `at` is the prefix of the field names."""
    material, size = choice.material, choice.nominal_size
    if choice.bore is not None:
        if size is not None:
            message = "Enter bore or nominal_size, not both."
            notes.refuse("conflicting_inputs", f"{at}bore", message, when=when)
    elif size is None:
        message = (
            "Enter nominal_size with the material, or bore."
            if material
            else "Enter material and nominal_size, or bore."
        )
        notes.refuse("required", f"{at}nominal_size" if material else f"{at}bore", message, when=when)
    elif material is None:
        message = "A nominal size needs its material: the bore of a size differs between materials."
        notes.refuse("required", f"{at}material", message, when=when, allowed=list(pipe_materials()))
    else:
        sizes = pipe_materials()[material].sizes
        if size not in sizes:
            message = f"{pipe_materials()[material].title} has no size {size} in the tables."
            notes.refuse("unknown_choice", f"{at}nominal_size", message, when=when, allowed=list(sizes))


def bore_of(choice: PipeChoice, notes: Notes) -> Numbers:
    """Return the bore of a pipe that passed `refuse_unclear_bore` [m], and add its source to the basis."""
    if choice.bore is not None:
        return choice.bore
    bore, basis = dimensions(choice.material or "", choice.nominal_size or "")
    add_basis_once(notes, basis)
    return bore


def add_basis_once(notes: Notes, basis: Basis) -> None:
    """Add the basis of an answer, unless it is there already."""
    if basis not in notes.basis:
        notes.add_basis(basis)


@cache
def dimensions(material: str, nominal_size: str) -> tuple[float, Basis]:
    """Return the bore of a size [m] and its basis."""
    pipe = pipe_materials()[material]
    size = pipe.sizes[nominal_size]
    validity = f"{pipe.title}, {nominal_size} in: bore {size.bore * 1e3:.2f} mm"
    if size.average_bore is not None:
        share = 100.0 * (1.0 - size.average_bore / size.bore)
        validity += f", at the minimum wall; the published average bore is {share:.1f} % smaller"
    method = "bore = outside diameter - 2 x wall"
    return size.bore, Basis(method=method, source=size.source, validity=validity)


@dataclass(frozen=True, slots=True)
class Sizes:
    """Nominal sizes of one material, smallest first, with None if a larger one is needed."""

    bores: npt.NDArray[np.float64]
    names: tuple[str | None, ...]


@cache
def sizes_of(material: str) -> Sizes:
    """Return the sizes of a material, ready for a search by bore."""
    sizes = pipe_materials()[material].sizes
    return Sizes(np.array([size.bore for size in sizes.values()]), (*sizes, None))


@dataclass(frozen=True, slots=True)
class _Limits:
    """Velocity limits of one material by temperature.

    Attributes
    ----------
    starts : tuple of float
        Temperatures at which the second and later limits start. [K]
    values : tuple of float
        The limits. [m/s]
    basis : tuple of Basis
        The source of each limit.
    messages : tuple of str
        The warning above each limit.
    """

    starts: tuple[float, ...]
    values: tuple[float, ...]
    basis: tuple[Basis, ...]
    messages: tuple[str, ...]

    def at(self, temperature: Numbers) -> tuple[Any, Numbers]:
        """Return the index of the limit at a temperature, and the limit itself [m/s]."""
        index: Any = 0
        for start in self.starts:
            index = index + (temperature >= start)
        return index, self.values[index] if isinstance(index, int) else np.array(self.values)[index]


@cache
def _limits_for(material: str | None) -> _Limits:
    """Return the velocity limits of a material, or those for any pipe."""
    if material is None:
        return _prepared("pipe of any material", general_velocity_limits())
    pipe: PipeMaterial = pipe_materials()[material]
    return _prepared(pipe.title, pipe.velocity_limits)


def _prepared(title: str, limits: tuple[VelocityLimit, ...]) -> _Limits:
    basis: list[Basis] = []
    messages: list[str] = []
    for limit in limits:
        water = _WATER[limit.use]
        amount = f"{limit.velocity_limit:.2f} m/s ({limit.velocity_limit / 0.3048:.3g} ft/s)"
        basis.append(Basis(method=f"velocity limit {amount}", source=limit.source, validity=f"{water} in {title}"))
        messages.append(
            f"The velocity is above {amount}, the limit published for {water} in {title} ({limit.source}). Expect "
            "noise, pressure surges and wear. Use a wider pipe or less flow."
        )
    return _Limits(
        starts=tuple(limit.lowest_temperature for limit in limits[1:]),
        values=tuple(limit.velocity_limit for limit in limits),
        basis=tuple(basis),
        messages=tuple(messages),
    )


def limit_of(material: str | None, temperature: Numbers) -> Numbers:
    """Return the published velocity limit of a material, or of pipes of any material [m/s]."""
    return _limits_for(material).at(temperature)[1]


def published_limit(material: str | None, temperature: Numbers, speed: Numbers, notes: Notes, field: str) -> Numbers:
    """Return the velocity limit of a material [m/s]. Add its basis, and a warning where the velocity is above it."""
    limits = _limits_for(material)
    index, limit = limits.at(temperature)
    if isinstance(index, int):
        add_basis_once(notes, limits.basis[index])
        notes.warn("velocity_above_limit", field, limits.messages[index], when=speed > limit)
        return limit
    for number, (basis, message) in enumerate(zip(limits.basis, limits.messages, strict=True)):
        here = index == number
        if here.any():
            add_basis_once(notes, basis)
            notes.warn("velocity_above_limit", field, message, when=here & (speed > limit))
    return limit
