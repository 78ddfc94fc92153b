"""Draws a chart as SVG or PNG."""

import io
import textwrap
import threading
from typing import Any, Literal, TypeAlias
from xml.sax.saxutils import escape

from dosewright.present.picture.chart import Axis, AxisName, Chart, shown_unit
from dosewright.present.picture.labels import INK, MUTED, write_names
from dosewright.present.picture.plotting import plotting

__all__ = ["FORMS", "Form", "render"]

Form: TypeAlias = Literal["svg", "png"]
FORMS: tuple[Form, ...] = ("svg", "png")

# Sizes [in].
_WIDTH, _PLOT_HEIGHT, _LEFT, _RIGHT, _ABOVE, _KEY_LINE = 7.2, 3.3, 0.72, 0.24, 0.62, 0.19
_MOST_IN_ONE_COLUMN = 3
_KEY_COLUMN = 3.4
_LEGEND_ROW = 0.26  # height above the plot without a legend
_TITLE_GAP = 25  # from plot to title, a legend of one row between [points]
_DOTS_PER_INCH = 150

# Told apart by line style and marker first; the inks also differ in lightness, so that a grey print keeps them apart.
_DEEP, _EARTH, _HAIR, _WASH = "#0b5563", "#a3480b", "#d3d9dd", "#dcebec"
_LINES: dict[str, dict[str, Any]] = {
    "main": {"color": _DEEP, "linewidth": 2.4, "linestyle": "-", "zorder": 4},
    "second": {"color": _EARTH, "linewidth": 1.9, "linestyle": (0, (5, 2.2)), "zorder": 3.5},
    "faint": {"color": MUTED, "linewidth": 0.9, "linestyle": "-", "zorder": 2},
}
_MARKS: dict[str, dict[str, Any]] = {
    "site": {"marker": "o", "markersize": 9, "color": _EARTH, "markeredgecolor": "white", "markeredgewidth": 1.4},
    "given": {"marker": "s", "markersize": 7, "color": "white", "markeredgecolor": INK, "markeredgewidth": 1.5},
    "note": {"marker": "o", "markersize": 3.5, "color": MUTED},
}
_LEVELS: dict[str, dict[str, Any]] = {
    "limit": {"color": INK, "linewidth": 1.5, "linestyle": (0, (1, 1.6)), "zorder": 3},
    "found": {"color": _EARTH, "linewidth": 1.5, "linestyle": (0, (7, 2, 1.5, 2)), "zorder": 3},
}
_STYLE: dict[str, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "dosewright",
    "font.family": ["DejaVu Sans"],
    "font.size": 10,
    "axes.edgecolor": MUTED,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": MUTED,
    "ytick.color": MUTED,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "grid.color": _HAIR,
    "grid.linewidth": 0.6,
}
# Its settings are one set for the whole process.
_drawing = threading.Lock()


def render(chart: Chart, form: Form) -> bytes:
    """Return a chart drawn; the same chart always gives the same bytes.

    Raises
    ------
    MissingLibraryError
        The library is not installed.
    """
    with _drawing, plotting().rc_context(_STYLE):
        figure = _drawn(chart)
        out = io.BytesIO()
        if form == "svg":
            figure.savefig(out, format="svg", metadata={"Date": None, "Creator": "Dosewright", "Title": chart.title})
            return _with_words(out.getvalue(), chart)
        words = {"Software": "Dosewright", "Title": chart.title, "Description": chart.description}
        figure.savefig(out, format="png", dpi=_DOTS_PER_INCH, metadata=words)
        return out.getvalue()


def _with_words(svg: bytes, chart: Chart) -> bytes:
    """Put the text alternative where screen readers look for it."""
    start = svg.index(b"<svg ")
    title = b"<title>%s</title>" % escape(chart.title).encode()
    head, _, rest = svg[start:].partition(title)
    if not rest:
        raise ValueError("the drawn picture has no title")
    words = f'<title id="title">{escape(chart.title)}</title>\n <desc id="words">{escape(chart.description)}</desc>'
    head = head.replace(b"<svg ", b'<svg role="img" aria-labelledby="title words" ', 1)
    return head + words.encode() + rest


def _drawn(chart: Chart) -> Any:
    rows = -(-len(chart.key) // 2) if len(chart.key) > _MOST_IN_ONE_COLUMN else len(chart.key)
    ticks_below = 0.14 * max((label.count("\n") for _, label in chart.x.ticks), default=0)
    below = 0.52 + ticks_below + _KEY_LINE * rows + (0.14 if rows else 0.0)
    height = _PLOT_HEIGHT + below + _ABOVE
    figure = plotting("figure").Figure(figsize=(_WIDTH, height), facecolor="white")
    axes = figure.add_axes((_LEFT / _WIDTH, below / height, 1 - (_LEFT + _RIGHT) / _WIDTH, _PLOT_HEIGHT / height))
    axes.set_axisbelow(True)
    axes.grid(visible=True)
    taller = _write_legend(axes, chart)
    if taller:
        figure.set_size_inches(_WIDTH, height + taller)
        height += taller
        axes.set_position((_LEFT / _WIDTH, below / height, 1 - (_LEFT + _RIGHT) / _WIDTH, _PLOT_HEIGHT / height))
    axes.set_title(chart.title, loc="left", fontsize=12, fontweight="bold", pad=_TITLE_GAP + 72.0 * taller)
    for area in chart.areas:
        axes.fill_between(area.x, area.low, area.high, color=_WASH, linewidth=0, zorder=1)
    for line in chart.lines:
        axes.plot(line.x, line.y, **_LINES[line.role], **_dots(dots=line.dots))
    for level in chart.levels:
        (axes.axhline if level.across == "y" else axes.axvline)(level.at, **_LEVELS[level.role])
    for mark in chart.marks:
        axes.plot([mark.x], [mark.y], linestyle="none", zorder=5, clip_on=False, **_MARKS[mark.role])
    _set_axis(axes, "x", chart.x)
    _set_axis(axes, "y", chart.y)
    write_names(axes, chart, _LEVELS)
    for number, text in enumerate(chart.key):
        column, row = divmod(number, rows)
        y = (0.12 + _KEY_LINE * (rows - 1 - row)) / height
        figure.text((_LEFT + _KEY_COLUMN * column) / _WIDTH, y, text, fontsize=7.5, color=INK)
    return figure


def _dots(*, dots: bool) -> dict[str, Any]:
    return {"marker": "o", "markersize": 4.5} if dots else {}


def _set_axis(axes: Any, which: AxisName, axis: Axis) -> None:
    unit = shown_unit(axis.unit)
    getattr(axes, f"set_{which}label")(f"{axis.title} [{unit}]" if unit else axis.title)
    if axis.logarithmic:
        getattr(axes, f"set_{which}scale")("log")
    low, high = getattr(axes, f"get_{which}lim")()
    if which == "y":
        # Room for the names above the highest point.
        high += 0.1 * (high - low)
    low, high = low if axis.low is None else axis.low, high if axis.high is None else axis.high
    getattr(axes, f"set_{which}lim")(low, high)
    side = getattr(axes, f"{which}axis")
    if axis.logarithmic:
        decades = [step * 10.0**power for power in range(-6, 7) for step in (1, 2, 5)]
        side.set_ticks([tick for tick in decades if low <= tick <= high])
        side.set_major_formatter(_plainly)
        side.set_minor_locator(plotting("ticker").NullLocator())
    if axis.ticks:
        side.set_ticks([place for place, _ in axis.ticks], [text for _, text in axis.ticks], fontsize=8)


def _plainly(value: float, _: int) -> str:
    return f"{value:g}"


def _write_legend(axes: Any, chart: Chart) -> float:
    """Write what the lines are above the plot, in as many columns as fit; return the room it needs beyond one row."""
    samples: list[Any] = []
    for line in chart.lines:
        if line.name:
            style = {name: value for name, value in _LINES[line.role].items() if name != "zorder"}
            samples.append(plotting("lines").Line2D([], [], label=line.name, **style, **_dots(dots=line.dots)))
    patch = plotting("patches").Patch
    samples += [patch(facecolor=_WASH, edgecolor=MUTED, linewidth=0.5, label=a.name) for a in chart.areas if a.name]
    if not samples:
        return 0.0
    room = _WIDTH - _LEFT - 0.5 * _RIGHT
    columns = len(samples)
    width, height = _legend_size(axes, samples, columns)
    while width > room and columns > 1:
        columns -= 1
        width, height = _legend_size(axes, samples, columns)
    if width > room:
        _wrap(samples, width, room)
        _, height = _legend_size(axes, samples, 1)
    return max(0.0, height - _LEGEND_ROW)


def _legend_size(axes: Any, samples: list[Any], columns: int) -> tuple[float, float]:
    """Write the legend in so many columns, in place of the one before; return its width and height [in]."""
    legend = axes.legend(
        handles=samples, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=columns, fontsize=9,
        frameon=False, handlelength=2.6, borderpad=0.2, borderaxespad=0.2, columnspacing=1.6,
    )  # fmt: skip
    extent = legend.get_window_extent()
    dots: float = axes.figure.dpi
    return extent.width / dots, extent.height / dots


def _wrap(samples: list[Any], width: float, room: float) -> None:
    """Break names that are too long for one line; `width` is that of the longest."""
    longest = max(len(sample.get_label()) for sample in samples)
    # Margin for lines and gaps; letters differ in width.
    most = int(0.85 * longest * room / width)
    for sample in samples:
        sample.set_label(textwrap.fill(sample.get_label(), most))
