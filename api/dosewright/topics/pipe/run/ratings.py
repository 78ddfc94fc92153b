"""Pressure ratings of a pipe at the temperature of its water."""

from typing import Any

import numpy as np

from dosewright.engine.notes import Notes
from dosewright.quantities import Numbers
from dosewright.tables.pipe_walls import Ratings, ratings
from dosewright.tables.pipes import pipe_materials

__all__ = ["ratings_of", "warn_rating"]


def ratings_of(material: str, nominal_size: str) -> Ratings | None:
    """Return the ratings of one size of a material; None if the tables have none."""
    made_of = pipe_materials()[material]
    size = made_of.sizes[nominal_size]
    return ratings(made_of.ratings, nominal_size, size.outer_diameter, size.wall)


def warn_rating(
    pipe: tuple[str | None, str | None],
    water_temperature: Numbers,
    pressure: Numbers | None,
    field: str,
    notes: Notes,
) -> None:
    """Warn if a pipe is above its rated temperature or pressure, or if no rating is known.

    Parameters
    ----------
    pipe : (str, str)
        Material and nominal size. No warning if either is missing.
    water_temperature : float or array
        [K]
    pressure : float, array or None
        Highest gauge pressure in the pipe; None if unknown. [Pa]
    field : str
        Field that the warning concerns.
    notes : Notes
        Takes the warnings.
    """
    material, nominal_size = pipe
    if material is None or nominal_size is None:
        return
    known = ratings_of(material, nominal_size)
    title = f"{nominal_size} in {pipe_materials()[material].title}"
    if known is None:
        message = (
            f"The pressure rating of {title} is not in the tables. Check the marking on the pipe, or its standard."
        )
        notes.warn("pressure_rating_not_known", field, message, when=pressure is not None)
        return
    index: Any = np.searchsorted(known.temperatures, water_temperature)
    too_warm = index == len(known.temperatures)
    message = (
        f"{title} is rated up to {known.temperatures[-1] - 273.15:.0f} degC ({known.source}). It has no rating "
        "for warmer water. Use another material."
    )
    notes.warn("above_rated_temperature", "water_temperature", message, when=too_warm)
    if pressure is None:
        return
    if not known.pressures:
        message = (
            f"The pressure rating of {title} is not in the tables. Check the marking on the pipe, or its standard."
        )
        notes.warn("pressure_rating_not_known", field, message, when=np.logical_not(too_warm))
        return
    for number, rated in enumerate(known.pressures):
        message = (
            f"The pressure is above {rated / 100000.0:.1f} bar ({rated / 6894.757293168:.0f} psi), the rating of "
            f"{title} up to {known.temperatures[number] - 273.15:.0f} degC ({known.source}). The pipe can burst. "
            "Fittings can have a lower rating."
        )
        above = np.logical_and(index == number, pressure > rated)
        notes.warn("above_rated_pressure", field, message, when=np.asarray(above)[()])
