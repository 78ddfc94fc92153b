"""Clearance to draw lamp and sleeve, and space for the whole train on the wall."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from dosewright.core import clearance as core
from dosewright.engine.base import Basis
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Views, calculation
from dosewright.present.rounding import in_profile
from dosewright.quantities import Numbers
from dosewright.topics.site import drawing
from dosewright.topics.site.contracts.clearance import (
    CartridgeHousing,
    ClearanceAnswer,
    ClearanceRequest,
    ControlBox,
    FloorTank,
    MountingRoom,
    PlacedDevice,
)
from dosewright.topics.site.elevation import Box, Elevation, drawing_of

__all__ = ["clearance"]

Ask = ClearanceRequest[Numbers]

_ROOM = Basis(
    method="clearance to draw = the longer of lamp and sleeve, plus clearance for a hand",
    source="geometry: glass does not bend; default clearance for a hand: common practice, no source",
    validity="a straight pull; the part of the lamp outside the chamber is not subtracted; the maker's own value comes "
    "first",
)
_TRAIN = Basis(
    method="devices side by side with the gap between them; tanks on the floor, housings below the pipe, the chamber "
    "centred on it, controls above everything that contains water",
    source="geometry; default gap and pipe height: common practice, no source",
    validity="devices and service clearances as rectangles; without brackets, bypass valves and drains",
)


@dataclass(slots=True)
class _Place:
    """A device on the wall with the service clearance on one side, in metres."""

    name: str
    width: Any
    height: Any
    depth: Any
    bottom: Any
    above: Any = 0.0
    below: Any = 0.0
    before: Any = 0.0
    behind: Any = 0.0
    left: Any = 0.0
    dry: bool = False

    @property
    def span(self) -> Any:
        """Width with service clearance."""
        return self.before + self.width + self.behind

    @property
    def top(self) -> Any:
        """Upper edge of the body."""
        return self.bottom + self.height

    @property
    def body(self) -> Box:
        """Rectangle of the body in the drawing."""
        return Box(float(self.left + self.before), float(self.bottom), float(self.width), float(self.height))

    @property
    def room(self) -> Box | None:
        """Rectangle of the service clearance in the drawing."""
        body = self.body
        if self.above > 0.0:
            return Box(body.left, float(self.top), body.width, float(self.above))
        if self.below > 0.0:
            return Box(body.left, float(self.bottom - self.below), body.width, float(self.below))
        if self.before > 0.0:
            return Box(float(self.left), body.bottom, float(self.before), body.height)
        if self.behind > 0.0:
            return Box(body.left + body.width, body.bottom, float(self.behind), body.height)
        return None


@calculation(
    "site/clearance",
    views=Views(drawing=drawing.drawing_of),
    request=ClearanceRequest,
    answer=ClearanceAnswer,
    summary="Clearance to draw lamp and sleeve, and a drawing of the train to scale",
    example={
        "lamp_length": "860 mm",
        "sleeve_length": "900 mm",
        "chamber_length": "920 mm",
        "chamber_diameter": "90 mm",
        "mounting": "vertical_drawn_up",
        "devices": [
            {
                "kind": "tank",
                "purpose": "softener",
                "diameter": "260 mm",
                "height": "1.4 m",
                "clearance_above": "300 mm",
            },
            {
                "kind": "housing",
                "purpose": "fine_filter",
                "diameter": "140 mm",
                "height": "330 mm",
                "service_clearance": "75 mm",
            },
            {"kind": "controls", "width": "250 mm", "height": "200 mm", "depth": "120 mm"},
        ],
        "pipe_height": "1.1 m",
        "ceiling_height": "2.6 m",
        "wall_width": "2 m",
        "include_drawing": True,
    },
)
def clearance(ask: Ask, notes: Notes) -> ClearanceAnswer[Numbers]:
    """Clearance to draw lamp and sleeve straight, for each way to mount the chamber, and space for the whole train.

    Devices are placed from left to right in the direction of flow, the chamber last. The drawing is an elevation to
    scale; dashed lines show the service clearance of each device.
    """
    notes.add_basis(_ROOM, _TRAIN)
    sleeve = ask.lamp_length if ask.sleeve_length is None else ask.sleeve_length
    room = core.lamp_clearance(ask.lamp_length, sleeve, ask.hand_clearance)
    places = [*(_place(device, ask) for device in ask.devices or []), _chamber(ask, ask.mounting, room)]
    _arrange(places, ask.device_gap)
    lowest, highest = _extremes(places)
    width = places[-1].left + places[-1].span
    clears_floor = lowest >= 0.0
    clears_ceiling = None if ask.ceiling_height is None else highest <= ask.ceiling_height
    fits_width = None if ask.wall_width is None else width <= ask.wall_width
    _warn(ask, (lowest, highest, width), clears_floor, clears_ceiling, fits_width, notes)
    return ClearanceAnswer(
        lamp_clearance=room,
        mountings=[_mounting(ask, name, room) for name in _MOUNTINGS],
        footprint_width=width,
        footprint_depth=_greatest([place.depth for place in places]),
        lowest_point=lowest,
        highest_point=highest,
        clears_floor=clears_floor,
        clears_ceiling=clears_ceiling,
        fits_width=fits_width,
        devices=[_placed(place) for place in places],
        drawing=_drawing(ask, places, width, notes),
    )


_MOST_DRAWN = 1000
_UNLIKE = 1.5  # a larger ratio of the lengths in one unit is a typing error: our own limit
_SIZES = ("width", "height", "depth", "bottom", "above", "below", "before", "behind", "left")
_MOUNTINGS = ("vertical_drawn_up", "vertical_drawn_down", "horizontal_drawn_left", "horizontal_drawn_right")


@clearance.check("lamp_length", "chamber_length")
def _lamp_in_chamber(ask: Ask, notes: Notes) -> None:
    message = "The lamp is more than twice as long as the chamber. Check both lengths and their units."
    notes.refuse("contradiction", "lamp_length", message, when=ask.lamp_length > 2.0 * ask.chamber_length)


@clearance.check("devices")
def _no_controls_alone(ask: Ask, notes: Notes) -> None:
    controls: list[int] = []
    for index, device in enumerate(ask.devices or []):
        with known_only():
            if isinstance(device, ControlBox):
                controls.append(index)
    for index in controls[3:]:
        notes.refuse(
            "too_many", f"devices/{index}/kind", "A train can have at most 3 control boxes. Remove the others."
        )


def _place(device: CartridgeHousing[Numbers] | FloorTank[Numbers] | ControlBox[Numbers], ask: Ask) -> _Place:
    match device:
        case CartridgeHousing():
            name, size = device.purpose.replace("_", " "), device.diameter
            bottom = ask.pipe_height - device.height
            return _Place(name, size, device.height, size, bottom, below=device.service_clearance)
        case FloorTank():
            name, size = device.purpose.replace("_", " "), device.diameter
            return _Place(name, size, device.height, size, 0.0, above=device.clearance_above)
        case ControlBox():
            return _Place("controls", device.width, device.height, device.depth, 0.0, dry=True)


def _chamber(ask: Ask, mounting: str, room: Numbers) -> _Place:
    length, diameter = ask.chamber_length, ask.chamber_diameter
    side = {
        "vertical_drawn_up": "above",
        "vertical_drawn_down": "below",
        "horizontal_drawn_left": "before",
        "horizontal_drawn_right": "behind",
    }[mounting]
    if mounting.startswith("vertical"):
        place = _Place("ultraviolet chamber", diameter, length, diameter, ask.pipe_height - 0.5 * length)
    else:
        place = _Place("ultraviolet chamber", length, diameter, diameter, ask.pipe_height - 0.5 * diameter)
    setattr(place, side, room)
    return place


def _arrange(places: list[_Place], gap: Numbers) -> None:
    """Place the devices side by side, and controls above the highest one that contains water."""
    left: Any = 0.0
    for place in places:
        place.left = left
        left = left + place.span + gap
    highest = _greatest([place.top for place in places if not place.dry])
    for place in places:
        if place.dry:
            place.bottom = highest


def _greatest(values: list[Any]) -> Any:
    found = values[0]
    for value in values[1:]:
        found = np.maximum(found, value)
    return found


def _extremes(places: list[_Place]) -> tuple[Any, Any]:
    highest = _greatest([place.top + place.above for place in places])
    return -_greatest([-(place.bottom - place.below) for place in places]), highest


def _mounting(ask: Ask, name: str, room: Numbers) -> MountingRoom[Any]:
    place = _chamber(ask, name, room)
    lowest, highest = _extremes([place])
    return MountingRoom(
        mounting=name,
        clearance_above=place.above,
        clearance_below=place.below,
        clearance_beside=place.before + place.behind,
        height=highest - lowest,
        width=place.span,
        fits=None if ask.ceiling_height is None else np.logical_and(lowest >= 0.0, highest <= ask.ceiling_height)[()],  # pyright: ignore[reportArgumentType]
    )


def _placed(place: _Place) -> PlacedDevice[Any]:
    return PlacedDevice(
        name=place.name,
        left=place.left,
        width=place.span,
        bottom=place.bottom,
        top=place.top,
        service_bottom=place.bottom - place.below,
        service_top=place.top + place.above,
    )


def _length(ask: Ask, excess: Any) -> str:
    """Return a length in the caller's unit with a space before it; nothing in a batch, where each row has its own."""
    return "" if np.ndim(excess) else f" {in_profile('small_length', float(excess), ask.units, 'up')}"


def _warn(
    ask: Ask, extent: tuple[Any, Any, Any], clears_floor: Any, clears_ceiling: Any, fits_width: Any, notes: Notes
) -> None:
    lowest, highest, width = extent
    message = (
        f"Too low: a device or its service clearance reaches{_length(ask, 0.0 - lowest)} into the floor. Raise the "
        "pipe, or draw the lamp in another direction."
    )
    notes.warn("reaches_floor", "lowest_point", message, when=np.logical_not(clears_floor))
    if clears_ceiling is not None:
        message = (
            f"Too high: a device or its service clearance reaches{_length(ask, highest - ask.ceiling_height)} above "
            "the ceiling. Lower the pipe, or draw the lamp in another direction."
        )
        notes.warn("reaches_ceiling", "highest_point", message, when=np.logical_not(clears_ceiling))
    if fits_width is not None:
        message = (
            f"The train with service clearance is{_length(ask, width - ask.wall_width)} wider than the wall. Use a "
            "wider wall, smaller gaps, or a vertical chamber."
        )
        notes.warn("wider_than_wall", "footprint_width", message, when=np.logical_not(fits_width))
    sleeve = ask.lamp_length if ask.sleeve_length is None else ask.sleeve_length
    longest = np.maximum(np.maximum(ask.lamp_length, sleeve), ask.chamber_length)
    least = np.minimum(np.minimum(ask.lamp_length, sleeve), ask.chamber_length)
    message = "Lamp, sleeve and chamber of one unit have about the same length. Check these lengths and their units."
    notes.warn("lengths_disagree", "lamp_length", message, when=longest > _UNLIKE * least)
    if ask.mounting == "vertical_drawn_down":
        message = (
            "With the lamp drawn downward, a leak runs onto the lamp's plug, and the glass falls if it slips. Draw it "
            "upward if there is room."
        )
        notes.warn("lamp_plug_below", "mounting", message)
    if ask.mounting.startswith("horizontal"):
        message = "In a horizontal chamber, turn the outlet up so that no air stays at the sleeve."
        notes.warn("air_in_chamber", "mounting", message)
    notes.caution("glass_parts", "uvc_eyes_skin", "lamp_mercury", "controls_above_plumbing", "mains_near_water")
    if any(isinstance(device, FloorTank) for device in ask.devices or []):
        notes.caution("lifting_weight")
    notes.caution("pressure", "local_rules")


def _drawing(ask: Ask, places: list[_Place], width: Any, notes: Notes) -> Any:
    """Draw the train; in a batch, one drawing a row."""
    if not ask.include_drawing:
        return None
    numbers: list[Any] = [ask.pipe_height, ask.ceiling_height, ask.wall_width, width]
    for place in places:
        numbers += [getattr(place, name) for name in _SIZES]
    rows = {np.shape(number)[0] for number in numbers if np.ndim(number)}
    if not rows:
        return _drawn(ask, places, width, 0)
    count = rows.pop()
    if count > _MOST_DRAWN:
        notes.refuse(
            "too_many",
            "include_drawing",
            f"Too many rows to draw: at most {_MOST_DRAWN}. Split the batch or set draw to false.",
        )
        return None
    return np.array([_drawn(ask, places, width, row) for row in range(count)], dtype=object)


def _at(value: Any, row: int) -> Any:
    return float(value[row]) if np.ndim(value) else value


def _drawn(ask: Ask, places: list[_Place], width: Any, row: int) -> str:
    here = [replace(place, **{name: _at(getattr(place, name), row) for name in _SIZES}) for place in places]
    ceiling, wall = _at(ask.ceiling_height, row), _at(ask.wall_width, row)
    return drawing_of(
        Elevation(
            names=[place.name for place in here],
            bodies=[place.body for place in here],
            rooms=[place.room for place in here],
            dry=[place.dry for place in here],
            width=float(_at(width, row)),
            pipe_height=float(_at(ask.pipe_height, row)),
            ceiling=None if ceiling is None else float(ceiling),
            wall=None if wall is None else float(wall),
        )
    )
