"""Contracts of the clearance check."""

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
    """A cartridge housing mounted below the pipe; its bowl comes off downward."""

    purpose: Annotated[
        Literal["sediment_filter", "fine_filter", "carbon_filter", "other_filter"], Choice("Purpose of the device.")
    ]
    diameter: Annotated[Q, _size("Outside diameter.", "140 mm")]
    height: Annotated[Q, _size("Height with its head.", "330 mm")]
    service_clearance: Annotated[
        Q,
        Measure(
            "small_length", "Clearance below to take the bowl off.", at_least="0 mm", at_most="2 m", example="75 mm"
        ),
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
        Choice("Purpose of the device."),
    ]
    diameter: Annotated[Q, _size("Outside diameter.", "260 mm")]
    height: Annotated[Q, _size("Height with its valve.", "1.5 m")]
    clearance_above: Annotated[
        Q,
        Measure(
            "small_length", "Clearance above to lift the valve off.", at_least="0 mm", at_most="3 m", example="300 mm"
        ),
    ]


class ControlBox(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="controls"
):
    """Controls or ballast: mounted next to the other devices and above everything that contains water."""

    width: Annotated[Q, _size("Width.", "250 mm")]
    height: Annotated[Q, _size("Height.", "200 mm")]
    depth: Annotated[Q, _size("Depth.", "120 mm")]


class ClearanceRequest(Request, Generic[Q]):
    """Lamp, chamber, the devices ahead of it in order, and the wall."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "lamp_length chamber_length chamber_diameter sleeve_length devices.diameter devices.height",
        "devices.service_clearance devices.clearance_above devices.width devices.depth hand_clearance device_gap",
    ) | lower("ceiling_height wall_width")
    undirected: ClassVar[Mapping[str, str]] = {
        "a low pipe is close to the floor, a high one to the ceiling": "pipe_height",
    }

    lamp_length: Annotated[Q, _size("Length of the lamp with its caps.", "860 mm")]
    chamber_length: Annotated[Q, _size("Outside length of the chamber.", "920 mm")]
    chamber_diameter: Annotated[Q, _size("Outside diameter of the chamber.", "90 mm")]
    sleeve_length: Annotated[
        Q | None, _size("Length of the sleeve. Without it, the lamp's length is used.", "900 mm")
    ] = None
    mounting: Annotated[
        Mounting, Choice("How the chamber is mounted, and in which direction lamp and sleeve are drawn.")
    ] = "vertical_drawn_up"
    devices: Annotated[
        list[CartridgeHousing[Q] | FloorTank[Q] | ControlBox[Q]] | None,
        Items("Devices ahead of the chamber, from left to right in the direction of flow. The chamber is last.", 1, 20),
    ] = None
    hand_clearance: Annotated[
        Q,
        Measure(
            "small_length",
            "Clearance for a hand beyond the lamp or sleeve when it is drawn out.",
            at_least="0 mm",
            at_most="1 m",
            example="100 mm",
        ),
    ] = default(default_text("hand_clearance"))
    device_gap: Annotated[
        Q,
        Measure(
            "small_length",
            "Distance between devices for unions, valves and a wrench.",
            at_least="0 mm",
            at_most="2 m",
            example="150 mm",
        ),
    ] = default(default_text("device_gap"))
    pipe_height: Annotated[
        Q,
        Measure(
            "length",
            "Height of the pipe above the floor. Housings are below it; the chamber is centred on it.",
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
    include_drawing: Annotated[
        bool, Flag("Whether to draw the elevation. A batch can have at most 1000 rows.", example=True)
    ] = False


class MountingRoom(msgspec.Struct, Generic[N], kw_only=True):
    """Space that one way of mounting the chamber needs."""

    mounting: Annotated[str, Text("How the chamber is mounted, and in which direction lamp and sleeve are drawn.")]
    clearance_above: Annotated[N, Measure("small_length", "Clearance above the chamber.")]
    clearance_below: Annotated[N, Measure("small_length", "Clearance below the chamber.")]
    clearance_beside: Annotated[
        N, Measure("small_length", "Clearance at the end of the chamber, on the side the lamp is drawn to.")
    ]
    height: Annotated[N, Measure("length", "Height of chamber and clearance together.")]
    width: Annotated[N, Measure("length", "Width of chamber and clearance together.")]
    fits: Annotated[
        bool | None,
        Flag("Whether it fits between floor and ceiling at this pipe height; absent without a ceiling height."),
    ]


class PlacedDevice(msgspec.Struct, Generic[N], kw_only=True):
    """One device on the wall, measured from the floor and from the left edge of the drawing."""

    name: Annotated[str, Text("Name of the device.")]
    left: Annotated[N, Measure("length", "Left edge, with service clearance.")]
    width: Annotated[N, Measure("length", "Width, with service clearance.")]
    bottom: Annotated[N, Measure("length", "Lower edge of the body.")]
    top: Annotated[N, Measure("length", "Upper edge of the body.")]
    service_bottom: Annotated[
        N, Measure("length", "Lower edge, with service clearance; negative if it reaches into the floor.")
    ]
    service_top: Annotated[N, Measure("length", "Upper edge, with service clearance.")]


class ClearanceAnswer(Answer, Generic[N]):
    """Clearance to draw the lamp, space for the whole train, and a drawing to scale."""

    safer: ClassVar[Mapping[str, Safe]] = (
        higher("lowest_point")
        | lower("lamp_clearance footprint_width footprint_depth highest_point")
        | {"clears_floor": True, "clears_ceiling": True, "fits_width": True}
    )

    lamp_clearance: Annotated[
        N, Measure("small_length", "Clearance beyond the end of the chamber to draw lamp and sleeve.")
    ]
    mountings: Annotated[list[MountingRoom[N]], Items("Each way to mount the chamber.")]
    footprint_width: Annotated[N, Measure("length", "Width of the whole train with service clearance.")]
    footprint_depth: Annotated[N, Measure("length", "Largest depth from the wall, without brackets.")]
    lowest_point: Annotated[
        N, Measure("length", "Lowest point of the train with service clearance; negative if it reaches into the floor.")
    ]
    highest_point: Annotated[N, Measure("length", "Highest point of the train with service clearance.")]
    clears_floor: Annotated[bool, Flag("Whether everything stays above the floor.")]
    clears_ceiling: Annotated[
        bool | None, Flag("Whether everything stays below the ceiling; absent without its height.")
    ]
    fits_width: Annotated[bool | None, Flag("Whether the train fits the width of the wall; absent without it.")]
    devices: Annotated[list[PlacedDevice[N]], Items("Each device, from left to right.")]
    drawing: Annotated[
        str | None, Text("Elevation to scale as SVG source, service clearance dashed; absent unless requested.")
    ]
