"""Writes labels next to curves and points, where they cover the least: a legend would have to be matched by eye."""

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from dosewright.present.picture.chart import Chart, Values
from dosewright.present.picture.plotting import plotting

__all__ = ["INK", "MUTED", "write_names"]

INK, MUTED = "#1d2730", "#56626c"

_GAP = 7.0  # from a mark to its name [points]
_HALO = 2.0  # what is white around a name [pixels]
_ON_NAME, _OUTSIDE = 1000.0, 3000.0  # cost of covering another name, of leaving the picture


class _Box(NamedTuple):
    left: float
    low: float
    right: float
    high: float

    def overlaps(self, other: "_Box") -> bool:
        return not (
            self.right < other.left or other.right < self.left or self.high < other.low or other.high < self.low
        )


class _Room:
    """What is taken in a picture: points of lines and marks, and the names written so far. In pixels."""

    def __init__(self, axes: Any, chart: Chart) -> None:
        frame = axes.get_window_extent()
        self.frame = _Box(frame.x0, frame.y0, frame.x1, frame.y1)
        self.axes = axes
        self.names: list[_Box] = []
        self.taken = np.concatenate([*(self._along(line.x, line.y) for line in chart.lines), np.empty((0, 2))])
        for mark in chart.marks:
            x, y = self.pixels(mark.x, mark.y)
            self.names.append(_Box(x - 5, y - 5, x + 5, y + 5))
        for level in chart.levels:
            if level.across == "x":
                x, _ = self.pixels(level.at, axes.get_ylim()[0])
                self._take(np.full(60, x), np.linspace(self.frame.low, self.frame.high, 60))
            else:
                _, y = self.pixels(axes.get_xlim()[0], level.at)
                self._take(np.linspace(self.frame.left, self.frame.right, 120), np.full(120, y))

    def pixels(self, x: float, y: float) -> tuple[float, float]:
        """Return where a point is drawn."""
        across, up = self.axes.transData.transform((x, y))
        return float(across), float(up)

    def _take(self, x: Values, y: Values) -> None:
        self.taken = np.concatenate([self.taken, np.column_stack([x, y])])

    def _along(self, x: Values, y: Values) -> Values:
        known = np.isfinite(x) & np.isfinite(y)
        points: Values = self.axes.transData.transform(np.column_stack([x[known], y[known]]))
        if len(points) < 2:
            return points
        steps = np.linspace(0.0, len(points) - 1.0, 240)
        numbers = np.arange(len(points))
        across, up = np.interp(steps, numbers, points[:, 0]), np.interp(steps, numbers, points[:, 1])
        return np.column_stack([across, up])

    def cost(self, box: _Box) -> float:
        """Return how much a name there would cover."""
        x, y = self.taken[:, 0], self.taken[:, 1]
        across = (x > box.left - _HALO) & (x < box.right + _HALO)
        covered = float(np.sum(across & (y > box.low - _HALO) & (y < box.high + _HALO)))
        covered += _ON_NAME * sum(box.overlaps(name) for name in self.names)
        inside = (
            box.left >= self.frame.left
            and box.right <= self.frame.right
            and box.low >= self.frame.low
            and box.high <= self.frame.high + 2
        )
        return covered if inside else covered + _OUTSIDE


def write_names(axes: Any, chart: Chart, levels: Mapping[str, Mapping[str, Any]]) -> None:
    """Write the names of marks and levels."""
    room = _Room(axes, chart)
    frame = room.frame
    for level in chart.levels:
        colour = levels[level.role]["color"]
        if level.across == "y":
            _, y = room.pixels(axes.get_xlim()[0], level.at)
            ends = [(frame.left + 4, y + 3, 0.0, 0.0), (frame.right - 4, y + 3, 1.0, 0.0)]
            ends += [(frame.left + 4, y - 3, 0.0, 1.0), (frame.right - 4, y - 3, 1.0, 1.0)]
        else:
            x, _ = room.pixels(level.at, axes.get_ylim()[0])
            heights = frame.high - np.arange(4.0, 100.0, 16.0)
            ends = [(x + side, float(y), 0.0 if side > 0 else 1.0, 1.0) for y in heights for side in (5, -5)]
        _write(room, level.name, ends, {"color": colour, "fontsize": 9})
    for mark in sorted(chart.marks, key=lambda mark: mark.role != "site"):
        x, y = room.pixels(mark.x, mark.y)
        gap = _GAP if mark.role != "note" else 4.0
        around = [(1, 1), (-1, 1), (1, -1), (-1, -1), (1, 0), (-1, 0), (0, 1), (0, -1)]
        # Close by first; further out where all is taken.
        ends = [
            (x + gap * far * side, y + gap * far * up, 0.5 - 0.5 * side, 0.5 - 0.5 * up)
            for far in (1.0, 2.5)
            for side, up in around
        ]
        plain = mark.role == "note"
        style = {"fontsize": 8 if plain else 9, "color": MUTED if plain else INK}
        _write(room, mark.name, ends, {**style, "fontweight": "bold" if mark.role == "site" else "normal"})


def _write(room: _Room, name: str, ends: list[tuple[float, float, float, float]], style: Mapping[str, Any]) -> None:
    """Write a name at the best of several places: a point, and which part of the name is there (0 start, 1 end)."""
    halo = {"boxstyle": "round,pad=0.12", "facecolor": "white", "edgecolor": "none", "alpha": 0.8}
    text = room.axes.text(
        0.0, 0.0, name, transform=plotting("transforms").IdentityTransform(), zorder=6, bbox=halo, **style
    )
    size = text.get_window_extent()
    boxes = [
        _Box(x - share * size.width, y - rise * size.height, x + (1 - share) * size.width, y + (1 - rise) * size.height)
        for x, y, share, rise in ends
    ]
    best = min(boxes, key=room.cost)
    room.names.append(best)
    # In data terms, so that it stays there at another resolution.
    x, y = room.axes.transData.inverted().transform((best.left, best.low - size.y0))
    text.set_transform(room.axes.transData)
    text.set_position((float(x), float(y)))
