"""What a request's material, nominal size and temperature choose from the pipe tables."""

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
    "bore_of",
    "dimensions",
    "limit_of",
    "published_limit",
    "refuse_unclear_bore",
    "rest_once",
    "sizes_of",
]

_WATER = {"cold": "cold water", "hot": "hot water", "very_hot": "water above 140 degF", "any": "water"}


class PipeChoice(Protocol):
    """The fields by which a request names a pipe."""

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
    """Refuse a pipe whose bore is not told, or told twice; `at` goes before the field names."""
    material, size = choice.material, choice.nominal_size
    if choice.bore is not None:
        if size is not None:
            message = "Give bore or nominal_size, not both."
            notes.refuse("given_twice", f"{at}bore", message, when=when)
    elif size is None:
        message = (
            "Give nominal_size with the material, or bore." if material else "Give material and nominal_size, or bore."
        )
        notes.refuse("required", f"{at}nominal_size" if material else f"{at}bore", message, when=when)
    elif material is None:
        message = "A nominal size needs its material: the same size has another bore in each."
        notes.refuse("required", f"{at}material", message, when=when, allowed=list(pipe_materials()))
    else:
        sizes = pipe_materials()[material].sizes
        if size not in sizes:
            message = f"{pipe_materials()[material].title} has no size {size} in the tables."
            notes.refuse("unknown_choice", f"{at}nominal_size", message, when=when, allowed=list(sizes))


def bore_of(choice: PipeChoice, notes: Notes) -> Numbers:
    """Return the bore of a pipe that passed `refuse_unclear_bore` [m], and say where it comes from."""
    if choice.bore is not None:
        return choice.bore
    bore, basis = dimensions(choice.material or "", choice.nominal_size or "")
    rest_once(notes, basis)
    return bore


def rest_once(notes: Notes, basis: Basis) -> None:
    """Say what an answer rests on, unless it was said."""
    if basis not in notes.basis:
        notes.rest_on(basis)


@cache
def dimensions(material: str, nominal_size: str) -> tuple[float, Basis]:
    """Return the bore of a size [m] and what it rests on."""
    pipe = pipe_materials()[material]
    size = pipe.sizes[nominal_size]
    validity = f"{pipe.title}, {nominal_size} in: bore {size.bore * 1e3:.2f} mm"
    if size.average_bore is not None:
        share = 100.0 * (1.0 - size.average_bore / size.bore)
        validity += f", at the minimum wall; the average bore printed for it is {share:.1f} % smaller"
    method = "bore = outside diameter - 2 x wall"
    return size.bore, Basis(method=method, source=size.source, validity=validity)


@dataclass(frozen=True, slots=True)
class Sizes:
    """Nominal sizes of one material, smallest first, with None for wider than any of them."""

    bores: npt.NDArray[np.float64]
    names: tuple[str | None, ...]


@cache
def sizes_of(material: str) -> Sizes:
    """Return the sizes of a material, ready to be searched by bore."""
    sizes = pipe_materials()[material].sizes
    return Sizes(np.array([size.bore for size in sizes.values()]), (*sizes, None))


@dataclass(frozen=True, slots=True)
class _Limits:
    """Velocity limits of one material over temperature, ready for use.

    Attributes
    ----------
    starts : tuple of float
        Temperatures at which the second and later limits start. [K]
    values : tuple of float
        The limits. [m/s]
    basis : tuple of Basis
        What each rests on.
    messages : tuple of str
        What is said of a velocity above each.
    """

    starts: tuple[float, ...]
    values: tuple[float, ...]
    basis: tuple[Basis, ...]
    messages: tuple[str, ...]

    def at(self, temperature: Numbers) -> tuple[Any, Numbers]:
        """Return which limit holds at a temperature, and the limit itself [m/s]."""
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
            f"Faster than the {amount} published for {water} in {title} ({limit.source}): "
            "expect noise, pressure surges and wear. Take a wider pipe or less flow."
        )
    return _Limits(
        starts=tuple(limit.lowest_temperature for limit in limits[1:]),
        values=tuple(limit.velocity_limit for limit in limits),
        basis=tuple(basis),
        messages=tuple(messages),
    )


def limit_of(material: str | None, temperature: Numbers) -> Numbers:
    """Return the velocity limit published for a material, or for pipes of any [m/s]."""
    return _limits_for(material).at(temperature)[1]


def published_limit(material: str | None, temperature: Numbers, speed: Numbers, notes: Notes, field: str) -> Numbers:
    """Return the velocity limit of a material [m/s], say what it rests on, and warn where the velocity is above it."""
    limits = _limits_for(material)
    index, limit = limits.at(temperature)
    if isinstance(index, int):
        rest_once(notes, limits.basis[index])
        notes.warn("velocity_above_limit", field, limits.messages[index], when=speed > limit)
        return limit
    for number, (basis, message) in enumerate(zip(limits.basis, limits.messages, strict=True)):
        here = index == number
        if here.any():
            rest_once(notes, basis)
            notes.warn("velocity_above_limit", field, message, when=here & (speed > limit))
    return limit
