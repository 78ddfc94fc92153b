"""Contracts of site/clearance."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Items, Measure, Text, default
from dosewright.tables.site import default_text

__all__ = [
    "CartridgeHousing",
    "ClearanceAnswer",
    "ClearanceRequest",
    "ControlBox",
    "FloorTank",
    "Mounting",
    "MountingRoom",
    "PlacedDevice",
]

Mounting: TypeAlias = Literal[
    "vertical_drawn_up", "vertical_drawn_down", "horizontal_drawn_left", "horizontal_drawn_right"
]


def _size(doc: str, example: str) -> Measure:
    return Measure("small_length", doc, at_least="1 cm", at_most="4 m", example=example)


class CartridgeHousing(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="housing"
):
    """A cartridge housing that hangs from the pipe; its bowl comes off downward."""

    purpose: Annotated[
        Literal["sediment_filter", "fine_filter", "carbon_filter", "other_filter"], Choice("What it does.")
    ]
    diameter: Annotated[Q, _size("Outside diameter.", "140 mm")]
    height: Annotated[Q, _size("Height with its head.", "330 mm")]
    draw_room: Annotated[
        Q, Measure("small_length", "Room below to take the bowl off.", at_least="0 mm", at_most="2 m", example="75 mm")
    ]


class FloorTank(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="tank"):
    """A tank on the floor, with its valve."""

    purpose: Annotated[
        Literal[
            "pressure_tank",
            "neutraliser",
            "oxidising_filter",
            "softener",
            "brine_tank",
            "tannin_exchanger",
            "carbon_filter",
            "other_tank",
        ],
        Choice("What it does."),
    ]
    diameter: Annotated[Q, _size("Outside diameter.", "260 mm")]
    height: Annotated[Q, _size("Height with its valve.", "1.5 m")]
    room_above: Annotated[
        Q,
        Measure("small_length", "Room above to lift the valve off.", at_least="0 mm", at_most="3 m", example="300 mm"),
    ]


class ControlBox(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="controls"
):
    """Controls or ballast: placed beside the others, above all that holds water."""

    width: Annotated[Q, _size("Width.", "250 mm")]
    height: Annotated[Q, _size("Height.", "200 mm")]
    depth: Annotated[Q, _size("Depth.", "120 mm")]


class ClearanceRequest(Request, Generic[Q]):
    """Lamp and chamber, the devices ahead of it in order, and the wall."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "lamp_length chamber_length chamber_diameter sleeve_length devices.diameter devices.height",
        "devices.draw_room devices.room_above devices.width devices.depth hand_room device_gap",
    ) | lower("ceiling_height wall_width")
    undirected: ClassVar[Mapping[str, str]] = {
        "too low misses the floor and too high the ceiling": "pipe_height",
    }

    lamp_length: Annotated[Q, _size("Whole length of the lamp with its caps.", "860 mm")]
    chamber_length: Annotated[Q, _size("Outside length of the chamber.", "920 mm")]
    chamber_diameter: Annotated[Q, _size("Outside diameter of the chamber.", "90 mm")]
    sleeve_length: Annotated[
        Q | None, _size("Whole length of the sleeve; taken as the lamp's when left out.", "900 mm")
    ] = None
    mounting: Annotated[
        Mounting, Choice("How the chamber is mounted, and to which side lamp and sleeve are drawn.")
    ] = "vertical_drawn_up"
    devices: Annotated[
        list[CartridgeHousing[Q] | FloorTank[Q] | ControlBox[Q]] | None,
        Items(
            "Devices ahead of the chamber, from left to right in the direction of flow; the chamber comes last.", 1, 20
        ),
    ] = None
    hand_room: Annotated[
        Q,
        Measure(
            "small_length",
            "Room for a hand behind lamp or sleeve once they are out.",
            at_least="0 mm",
            at_most="1 m",
            example="100 mm",
        ),
    ] = default(default_text("hand_room"))
    device_gap: Annotated[
        Q,
        Measure(
            "small_length",
            "Room between devices for unions, valves and a wrench.",
            at_least="0 mm",
            at_most="2 m",
            example="150 mm",
        ),
    ] = default(default_text("device_gap"))
    pipe_height: Annotated[
        Q,
        Measure(
            "length",
            "Height above the floor of the pipe that housings hang from and the chamber is centred on.",
            at_least="10 cm",
            at_most="5 m",
            example="1.2 m",
        ),
    ] = default(default_text("pipe_height"))
    ceiling_height: Annotated[
        Q | None, Measure("length", "Height of the room.", at_least="50 cm", at_most="20 m", example="2.4 m")
    ] = None
    wall_width: Annotated[
        Q | None, Measure("length", "Width of the wall or board.", at_least="10 cm", at_most="50 m", example="2.5 m")
    ] = None
    draw: Annotated[bool, Flag("Whether to draw the elevation; in a batch, of at most 1000 rows.", example=True)] = (
        False
    )


class MountingRoom(msgspec.Struct, Generic[N], kw_only=True):
    """What one way of mounting the chamber takes."""

    mounting: Annotated[str, Text("How the chamber is mounted, and to which side lamp and sleeve are drawn.")]
    room_above: Annotated[N, Measure("small_length", "Room above the chamber.")]
    room_below: Annotated[N, Measure("small_length", "Room below the chamber.")]
    room_beside: Annotated[N, Measure("small_length", "Room at its end, to the side it is drawn to.")]
    height: Annotated[N, Measure("length", "Height of chamber and room together.")]
    width: Annotated[N, Measure("length", "Width of chamber and room together.")]
    fits: Annotated[
        bool | None,
        Flag("Whether it goes between floor and ceiling at this pipe height; absent without a ceiling height."),
    ]


class PlacedDevice(msgspec.Struct, Generic[N], kw_only=True):
    """One device on the wall; left of the drawing and floor are 0."""

    name: Annotated[str, Text("What it is.")]
    left: Annotated[N, Measure("length", "Left edge of body and room to service it.")]
    width: Annotated[N, Measure("length", "Width of body and room to service it.")]
    bottom: Annotated[N, Measure("length", "Lower edge of the body.")]
    top: Annotated[N, Measure("length", "Upper edge of the body.")]
    service_bottom: Annotated[N, Measure("length", "Lower edge with the room to service it; below zero: in the floor.")]
    service_top: Annotated[N, Measure("length", "Upper edge with the room to service it.")]


class ClearanceAnswer(Answer, Generic[N]):
    """Room to draw the lamp, room of the whole train, and a drawing to scale."""

    safer: ClassVar[Mapping[str, Safe]] = (
        higher("lowest_point")
        | lower("room_to_draw footprint_width footprint_depth highest_point")
        | {"clears_floor": True, "clears_ceiling": True, "fits_width": True}
    )

    room_to_draw: Annotated[N, Measure("small_length", "Room in front of the chamber's end for lamp and sleeve.")]
    mountings: Annotated[list[MountingRoom[N]], Items("Each way to mount the chamber.")]
    footprint_width: Annotated[N, Measure("length", "Width of the whole train with its service room.")]
    footprint_depth: Annotated[N, Measure("length", "Greatest depth from the wall, brackets not counted.")]
    lowest_point: Annotated[N, Measure("length", "Lowest point of bodies and service room; below zero: in the floor.")]
    highest_point: Annotated[N, Measure("length", "Highest point of bodies and service room.")]
    clears_floor: Annotated[bool, Flag("Whether everything stays above the floor.")]
    clears_ceiling: Annotated[bool | None, Flag("Whether it stays below the ceiling; absent without its height.")]
    fits_width: Annotated[bool | None, Flag("Whether it fits the wall's width; absent without it.")]
    devices: Annotated[list[PlacedDevice[N]], Items("Each device, from left to right.")]
    drawing: Annotated[
        str | None, Text("Elevation to scale as SVG source, with the service room dashed; absent where not asked for.")
    ]
