"""Drawing of a wall with its devices to scale, as SVG: readable in grey, with real text and a text description."""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

__all__ = ["Box", "Elevation", "drawing_of"]

_LONG_SIDE = 960.0  # pixels of the picture's longer side
_FONT = 1.0 / 46.0  # of the longer side
_SCALE_BAR = 0.5  # [m]
_LETTER = 0.54  # mean width of a letter, of its height


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on the wall: left, bottom, width and height, in metres."""

    left: float
    bottom: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Elevation:
    """What is drawn.

    Attributes
    ----------
    names : sequence of str
        What each device is.
    bodies : sequence of Box
        The devices.
    rooms : sequence of Box or None
        Service clearance of each.
    dry : sequence of bool
        Whether each is a control box, which contains no water.
    width, pipe_height : float
        Width of the train, and height of the pipe. [m]
    ceiling, wall : float or None
        Height of the room and width of the wall. [m]
    """

    names: Sequence[str]
    bodies: Sequence[Box]
    rooms: Sequence[Box | None]
    dry: Sequence[bool]
    width: float
    pipe_height: float
    ceiling: float | None
    wall: float | None


def _round(value: float) -> float:
    # The same size in another unit can differ in its last digit, which must not show.
    return round(value, 6)


def _millimetres(metres: float) -> str:
    return f"{_round(metres * 1000.0):.0f} mm"


def _area(width: float, height: float) -> str:
    millimetres = " x ".join(f"{_round(size * 1000.0):.0f}" for size in (width, height))
    inches = " x ".join(f"{_round(size / 0.0254):.1f}" for size in (width, height))
    return f"{millimetres} mm ({inches} in)"


def _readable(metres: float) -> str:
    return f"{_round(metres * 1000.0):.0f} mm ({_round(metres / 0.0254):.1f} in)"


class _Sheet:
    """Collects SVG elements; wall coordinates in metres, upward, become pixels, downward."""

    def __init__(self, left: float, right: float, bottom: float, top: float, key: Sequence[str]) -> None:
        side = max(right - left, top - bottom)
        self.scale = _LONG_SIDE / side
        self.font = _LONG_SIDE * _FONT
        self.margin = 3.2 * self.font
        self._left, self._top = left, top
        self.floor_row = self.margin + (top - bottom) * self.scale
        self.width = max(
            (right - left) * self.scale + 2.0 * self.margin,
            2.0 * self.margin + _LETTER * self.font * max(map(len, key)),
        )
        self.height = self.floor_row + (5.4 + 1.4 * len(key)) * self.font
        self.parts: list[str] = []

    def x(self, metres: float) -> float:
        return _round(self.margin + (metres - self._left) * self.scale)

    def y(self, metres: float) -> float:
        return _round(self.margin + (self._top - metres) * self.scale)

    def rectangle(self, box: Box, style: str) -> None:
        x, y = self.x(box.left), self.y(box.bottom + box.height)
        size = f'width="{_round(box.width * self.scale):.1f}" height="{_round(box.height * self.scale):.1f}"'
        self.parts.append(f'<rect x="{x:.1f}" y="{y:.1f}" {size} {style}/>')

    def line(self, x1: float, y1: float, x2: float, y2: float, style: str) -> None:
        self.parts.append(f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" {style}/>')

    def text(self, x: float, y: float, label: str, anchor: str = "start", *, turned: bool = False) -> None:
        turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if turned else ""
        self.parts.append(f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{turn} {_HALO}>{escape(label)}</text>')

    def halo(self, x: float, y: float, label: str) -> None:
        """Write a number in a white disc, so that it reads on any grey."""
        self.parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{0.72 * self.font:.1f}" fill="#fff" stroke="#222"/>'
            f'<text x="{x:.1f}" y="{y + 0.35 * self.font:.1f}" text-anchor="middle">{escape(label)}</text>'
        )


_HALO = 'stroke="#fff" stroke-width="5" stroke-linejoin="round" paint-order="stroke"'
_ROOM = 'fill="#e4e4e4" stroke="#555" stroke-width="1.5" stroke-dasharray="8 5"'
_WET = 'fill="#fff" stroke="#111" stroke-width="2.5"'
_DRY = 'fill="#bbb" stroke="#111" stroke-width="2.5"'
_EDGE = 'stroke="#111" stroke-width="4"'
_PIPE = 'stroke="#777" stroke-width="5"'
_MEASURE = 'stroke="#333" stroke-width="1.2"'


def drawing_of(view: Elevation) -> str:
    """Return the SVG source of an elevation, on one line."""
    boxes = [*view.bodies, *(room for room in view.rooms if room is not None)]
    bottom = min(0.0, *(box.bottom for box in boxes))
    top = max(view.ceiling or 0.0, *(box.bottom + box.height for box in boxes))
    right = max(view.width, view.wall or 0.0)
    key = _key(view)
    sheet = _Sheet(0.0, right, bottom, top, key)
    _surroundings(sheet, view, right)
    _pipes(sheet, view)
    for room in view.rooms:
        if room is not None:
            sheet.rectangle(room, _ROOM)
    for number, (body, dry) in enumerate(zip(view.bodies, view.dry, strict=True), start=1):
        sheet.rectangle(body, _DRY if dry else _WET)
        sheet.halo(sheet.x(body.left + 0.5 * body.width), sheet.y(body.bottom + 0.5 * body.height), str(number))
    for body, room in zip(view.bodies, view.rooms, strict=True):
        if room is not None:
            _measured(sheet, body, room)
    if view.ceiling is not None:
        label = f"ceiling {_readable(view.ceiling)}"
        sheet.text(sheet.x(right), sheet.y(view.ceiling) - 0.5 * sheet.font, label, "end")
    _below(sheet, view, key)
    return _svg(sheet, key)


def _svg(sheet: _Sheet, key: Sequence[str]) -> str:
    described = "Elevation to scale, floor at the bottom. " + " ".join(f"{line}." for line in key)
    size = f'width="{sheet.width:.0f}" height="{sheet.height:.0f}" viewBox="0 0 {sheet.width:.0f} {sheet.height:.0f}"'
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-labelledby="elevation-title elevation-desc" '
        f'font-family="sans-serif" font-size="{sheet.font:.1f}" fill="#111">'
        '<title id="elevation-title">Space for the treatment train and to draw its lamp</title>'
        f'<desc id="elevation-desc">{escape(described)}</desc>'
        '<rect width="100%" height="100%" fill="#fff"/>'
    )
    return head + "".join(sheet.parts) + "</svg>"


def _surroundings(sheet: _Sheet, view: Elevation, right: float) -> None:
    floor = sheet.y(0.0)
    ends = sheet.x(0.0) - 0.8 * sheet.font, sheet.x(right) + 0.8 * sheet.font
    sheet.line(ends[0], floor, ends[1], floor, _EDGE)
    if view.ceiling is not None:
        ceiling = sheet.y(view.ceiling)
        sheet.line(ends[0], ceiling, ends[1], ceiling, _EDGE)
    if view.wall is not None:
        for edge in (0.0, view.wall):
            top = sheet.y(view.ceiling) if view.ceiling is not None else sheet.margin
            sheet.line(sheet.x(edge), floor, sheet.x(edge), top, 'stroke="#111" stroke-width="1.5"')


def _pipes(sheet: _Sheet, view: Elevation) -> None:
    """Draw the pipe behind the devices with water, from the left edge to the middle of the last device."""
    wet = [body for body, dry in zip(view.bodies, view.dry, strict=True) if not dry]
    row = sheet.y(view.pipe_height)
    sheet.line(sheet.x(0.0), row, sheet.x(wet[-1].left + 0.5 * wet[-1].width), row, _PIPE)
    for body in wet:
        middle, upper = sheet.x(body.left + 0.5 * body.width), body.bottom + body.height
        if not body.bottom <= view.pipe_height <= upper:
            end = upper if upper < view.pipe_height else body.bottom
            sheet.line(middle, row, middle, sheet.y(end), _PIPE)


def _measured(sheet: _Sheet, body: Box, room: Box) -> None:
    """Write the length of the service clearance next to it."""
    upright = abs(room.width - body.width) < 1e-9
    length = room.height if upright else room.width
    if length <= 0.0:
        return
    label = _millimetres(length)
    if not upright:
        row = sheet.y(room.bottom) + 0.6 * sheet.font
        sheet.line(sheet.x(room.left), row, sheet.x(room.left + room.width), row, _MEASURE)
        sheet.text(sheet.x(room.left + 0.5 * room.width), row + 1.1 * sheet.font, label, "middle")
        return
    column = sheet.x(room.left + room.width) + 0.45 * sheet.font
    ends = sheet.y(room.bottom), sheet.y(room.bottom + room.height)
    sheet.line(column, ends[0], column, ends[1], _MEASURE)
    turned = ends[0] - ends[1] > _LETTER * 1.1 * sheet.font * len(label)
    middle = 0.5 * (ends[0] + ends[1])
    if turned:
        sheet.text(column + 1.0 * sheet.font, middle, label, "middle", turned=True)
    else:
        # Beyond the end of the clearance, since the next device can be close beside it.
        row = ends[0] + 1.1 * sheet.font if room.bottom < body.bottom else ends[1] - 0.4 * sheet.font
        sheet.text(sheet.x(room.left + 0.5 * room.width), row, label, "middle")


def _below(sheet: _Sheet, view: Elevation, key: Sequence[str]) -> None:
    """Draw the overall width, a scale and the key, below the floor."""
    row = sheet.floor_row + 1.2 * sheet.font
    start, end = sheet.x(0.0), sheet.x(view.width)
    sheet.line(start, row, end, row, _MEASURE)
    for tick in (start, end):
        sheet.line(tick, row - 0.4 * sheet.font, tick, row + 0.4 * sheet.font, _MEASURE)
    sheet.text(start, row + 1.3 * sheet.font, f"width with service clearance {_readable(view.width)}")
    scale_row = row + 2.6 * sheet.font
    sheet.line(start, scale_row, start + _SCALE_BAR * sheet.scale, scale_row, _EDGE)
    label = f"{_readable(_SCALE_BAR)}; dashed: service clearance; grey: controls"
    sheet.text(start + _SCALE_BAR * sheet.scale + 0.6 * sheet.font, scale_row + 0.35 * sheet.font, label)
    for number, line in enumerate(key, start=1):
        sheet.text(start, scale_row + (0.6 + 1.4 * number) * sheet.font, line)


def _key(view: Elevation) -> list[str]:
    lines: list[str] = []
    for number, (name, body, room) in enumerate(zip(view.names, view.bodies, view.rooms, strict=True), start=1):
        place = "on the floor" if body.bottom == 0.0 else f"{_readable(body.bottom)} above the floor"
        lines.append(f"{number} {name}: {_area(body.width, body.height)}, {place}")
        if room is not None:
            lines.append(f"{number} clearance {_side(body, room)}: {_readable(_extent(body, room))}")
    return lines


def _side(body: Box, room: Box) -> str:
    if abs(room.width - body.width) < 1e-9:
        return "above" if room.bottom > body.bottom else "below"
    return "to the left" if room.left < body.left else "to the right"


def _extent(body: Box, room: Box) -> float:
    return room.height if abs(room.width - body.width) < 1e-9 else room.width
