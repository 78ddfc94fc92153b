"""Pictures: what is drawn against what is answered, and the files themselves."""

from __future__ import annotations

import struct
import subprocess
import sys
import zlib
from xml.dom import minidom

import numpy as np
import pytest

from asgi import get, post
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.present import pdf
from dosewright.present.library import library
from dosewright.present.picture import rendering
from dosewright.present.picture.chart import Axis, Chart, Line
from dosewright.present.picture.rendering import FORMS
from dosewright.present.views import NoPictureError, chart_of, pictured_paths
from dosewright_sdk import InProcess
from dosewright_sdk.pictures import picture

WITHOUT = "pipe/velocity"
CHAMBER = ("chamber_bore", "sleeve_outer_diameter", "arc_length", "chamber_length", "uvc_output", "uvt")


def example(path, **changes):
    return {**calculations()[path].example, **changes}


def charted(path, **changes):
    answer = run(path, example(path, **changes))
    return answer, chart_of(answer)


def test_every_picture_is_of_a_calculation():
    assert set(pictured_paths()) <= set(calculations())
    assert WITHOUT in set(calculations()) - set(pictured_paths())


@pytest.mark.parametrize("uvt", ["75 %", "88 %", "96 %"])
def test_curve_of_derated_flow_is_what_the_calculation_answers(uvt):
    answer, chart = charted("uv/derated-flow", uvt=uvt)
    curve = chart.lines[0]
    site = chart.marks[0]
    assert site.y == answer.derated_flow
    assert np.interp(site.x, curve.x, curve.y) == pytest.approx(answer.derated_flow, rel=1e-3)
    middle = len(curve.x) // 2
    single = run("uv/derated-flow", example("uv/derated-flow", uvt=f"{float(curve.x[middle])!r} %"))
    assert curve.y[middle] == pytest.approx(single.derated_flow, rel=1e-12)
    darker = curve.x < 95.0  # the rated water: clearer water credits no more
    assert np.all(np.diff(curve.y[darker]) > 0)
    assert np.all(curve.y[~darker] == curve.y[-1])


def test_without_hydraulics_both_bounds_of_the_derated_flow_are_drawn():
    chamber = {name: value for name, value in example("uv/dose").items() if name in CHAMBER}
    answer = run("uv/derated-flow", {**chamber, "peak_flow": "30 L/min"})
    chart = chart_of(answer)
    upper, lower = chart.lines
    assert (upper.role, lower.role) == ("main", "second")
    assert np.all(lower.y < upper.y)
    assert np.interp(88.0, upper.x, upper.y) == pytest.approx(answer.derated_flow, rel=1e-3)
    assert np.interp(88.0, lower.x, lower.y) == pytest.approx(answer.flow_lower_bound, rel=1e-3)
    assert "is possibly covered" in chart.description
    named = chart_of(run("uv/derated-flow", {**chamber, "hydraulics": "plug_flow", "peak_flow": "30 L/min"}))
    assert len(named.lines) == 1
    assert "is covered" in named.description


def test_curve_of_several_rated_points_goes_beyond_them():
    points = [
        {"rated_flow": "20 L/min", "uvt": "75 %", "dose": "40 mJ/cm2"},
        {"rated_flow": "45 L/min", "uvt": "95 %", "dose": "40 mJ/cm2"},
    ]
    points = [{**point, "lamp_ageing_factor": "80 %", "sleeve_fouling_factor": "90 %"} for point in points]
    request = {"rated_points": points, "uvt": "88 %", "units": "us"}
    chart = chart_of(run("uv/derated-flow", request))
    assert (chart.x.low, chart.x.high) == (pytest.approx(60.0), pytest.approx(100.0))
    upper, lower = chart.lines
    assert np.isfinite(upper.y).all()
    # The next darker point holds until the clearer one is reached.
    between = (lower.x >= 75.0) & (lower.x < 95.0)
    assert lower.y[between] == pytest.approx(lower.y[between][0])
    assert lower.y[lower.x >= 95.0] == pytest.approx(upper.y[-1])
    assert np.all(np.diff(lower.y[lower.x <= 75.0]) > 0)
    assert "next darker water guarantees" in chart.description
    assert [mark.role for mark in chart.marks] == ["site", "given", "given"]
    assert chart.y.unit == "gal/min"
    assert chart.marks[1].y == pytest.approx(20.0 / 3.785411784)


def test_the_interval_of_an_unknown_chamber_is_drawn_as_two_lines():
    point = {"rated_flow": "45 L/min", "uvt": "95 %", "dose": "40 mJ/cm2", "lamp_ageing_factor": "80 %"}
    answer = run("uv/derated-flow", {"rated_points": [point], "uvt": "85 %", "peak_flow": "30 L/min"})
    chart = chart_of(answer)
    upper, lower = chart.lines
    assert "thinnest water layer" in upper.name
    assert "thickest water layer" in lower.name
    assert np.interp(85.0, upper.x, upper.y) == pytest.approx(answer.derated_flow, rel=2e-3)
    assert np.interp(85.0, lower.x, lower.y) == pytest.approx(answer.flow_lower_bound, rel=2e-3)
    assert np.all(lower.y[lower.x < 95.0] < upper.y[lower.x < 95.0])
    assert "thickest water layer" in chart.description


@pytest.mark.parametrize("tanks", [1, 3, 12.5])
def test_dose_distribution_holds_all_water_its_mean_and_its_red(tanks):
    answer, chart = charted("uv/dose", tanks=str(tanks), inactivation_rate="0.05 cm2/mJ", flow="20 L/min")
    doses, density = chart.lines[0].x, chart.lines[0].y / 100.0
    steps = np.concatenate([[0.0], doses])
    values = np.concatenate([[density[0] if tanks == 1 else 0.0], density])
    assert np.trapezoid(values, steps) == pytest.approx(1.0, abs=0.06)
    # Survivors of a first-order organism over the distribution define the RED: none of its formula is used here.
    survivors = np.trapezoid(values * np.exp(-0.05 * steps), steps)
    assert -np.log(survivors) / 0.05 == pytest.approx(answer.reduction_equivalent_dose, rel=0.01)
    levels = {level.name.split()[0]: level.at for level in chart.levels}
    assert levels["mean"] == answer.mean_dose
    assert levels["RED"] == answer.reduction_equivalent_dose
    assert levels["target"] == pytest.approx(40.0)


def test_dose_over_flow_when_no_tanks_are_named():
    request = {name: value for name, value in example("uv/dose").items() if name not in {"tanks", "inactivation_rate"}}
    answer = run("uv/dose", {**request, "hydraulics": "plug_flow"})
    chart = chart_of(answer)
    curve = chart.lines[0]
    assert curve.y * curve.x == pytest.approx(np.full(curve.x.shape, answer.mean_dose * 30.0))
    assert "met" in chart.description


@pytest.mark.parametrize("hydraulics", [{"hydraulics": "laminar"}])
def test_bars_of_the_dose_hold_all_water_and_its_mean(hydraulics):
    request = {name: value for name, value in example("uv/dose").items() if name != "tanks"}
    answer = run("uv/dose", {**request, **hydraulics})
    chart = chart_of(answer)
    bars = chart.lines[0]
    widths, heights = np.diff(bars.x)[::2], bars.y[1:-1:2]
    edges, shares = bars.x[::2], heights[: len(bars.x) // 2]
    assert shares.sum() == pytest.approx(100.0)
    assert widths.sum() >= 0.0
    middles = 0.5 * (edges[:-1] + edges[1:])
    # Bars of a fifth of the mean, the last one open: the mean of their middles is near the mean.
    assert np.sum(middles * shares[: len(middles)]) / 100.0 == pytest.approx(answer.mean_dose, rel=0.1)
    assert {level.name.split()[0] for level in chart.levels} == {"target", "RED", "mean"}


def test_dew_point_over_humidity_is_what_the_calculation_answers():
    answer, chart = charted("site/condensation")
    line, room = chart.lines[0], chart.marks[0]
    assert np.interp(room.x, line.x, line.y) == pytest.approx(answer.dew_point, abs=0.02)
    assert line.y[-1] == pytest.approx(
        run("site/condensation", example("site/condensation")).inputs["air_temperature"] - 273.15
    )
    for level, surface in zip(chart.levels, answer.surfaces, strict=True):
        assert level.at == surface.surface_temperature
        assert level.name.endswith("sweats" if surface.sweats else "dry")
        assert (level.at < room.y) == surface.sweats


def test_derating_curve_shows_the_points_answered():
    answer, chart = charted("uv/derating-curve", units="us")
    assert list(chart.lines[0].y) == pytest.approx([point.derated_flow for point in answer.by_uvt])
    assert list(chart.lines[0].x) == pytest.approx([point.uvt for point in answer.by_uvt])
    hours = {name: value for name, value in example("uv/derating-curve").items() if name != "uvts"}
    chart = chart_of(run("uv/derating-curve", hours))
    assert "lamp" in chart.x.title


@pytest.mark.parametrize("units", ["us", "metric", "si"])
def test_pressure_along_the_run_adds_up(units):
    answer, chart = charted("pipe/pressure-drop", units=units)
    pressure, grade = chart.lines
    assert pressure.y[-1] == pytest.approx(answer.outlet_pressure)
    assert -np.diff(pressure.y) == pytest.approx([segment.pressure_drop for segment in answer.segments])
    # The grade line leaves out the rise, and only that.
    assert grade.y[-1] - pressure.y[-1] == pytest.approx(answer.segments[-1].pressure_drop)
    assert np.all(np.diff(grade.y) <= 1e-12)
    assert chart.y.unit == answer.units["pressure_drop"]
    segment = answer.segments[2]
    assert pressure.y[3] == pytest.approx(segment.pressure)
    length = {"us": "60 ft", "metric": "18.3 m", "si": "18.3 m"}[units]
    assert chart.x.ticks[0][1] == f"pipe\n{length}"


def test_branches_of_a_split_start_and_end_together():
    pipe = {"kind": "pipe", "bore": "20 mm", "roughness": "0.0015 mm"}
    segments = [
        {**pipe, "length": "5 m"},
        {**pipe, "length": "4 m", "branch": "a"},
        {**pipe, "length": "8 m", "branch": "a"},
        {**pipe, "length": "3 m", "branch": "b"},
        {**pipe, "length": "5 m"},
    ]
    answer = run("pipe/pressure-drop", {"flow": "20 L/min", "segments": segments, "inlet_pressure": "300 kPa"})
    line = chart_of(answer).lines[0]
    start, split, _, end_a, gap, start_b, end_b, outlet = line.y
    assert np.isnan(gap)
    assert list(line.x) == [0, 1, 2, 3, 3, 3, 4, 5]
    assert (start, outlet) == (300.0, pytest.approx(answer.outlet_pressure))
    assert start_b == split
    assert end_a == pytest.approx(end_b, rel=1e-9)


def test_a_long_run_without_inlet_pressure_is_numbered():
    pipe = {"kind": "pipe", "length": "1 m", "bore": "20 mm", "roughness": "0.0015 mm"}
    request = {"flow": "20 L/min", "segments": [pipe] * 40, "answer_units": {"segments.pressure_drop": "psi"}}
    answer = run("pipe/pressure-drop", request)
    chart = chart_of(answer)
    assert len(chart.x.ticks) <= 12
    assert chart.x.ticks[0][1] == "1"
    assert chart.lines[0].y[-1] == pytest.approx(-answer.pressure_drop)


def test_hold_times_are_those_of_the_rules():
    answer, chart = charted("chlorine/shock", rule="michigan_325_1661", free_chlorine="300 mg/L")
    named = next(line for line in chart.lines if line.role == "main")
    hours = answer.hold_time / 60.0
    # Michigan's table: 100, 250, 500, 1000 mg/L for 10, 4, 2, 1 h (R 325.1661, table 5).
    assert list(named.x[:8]) == [100.0, 250.0, 250.0, 500.0, 500.0, 1000.0, 1000.0, chart.x.high]
    assert list(named.y) == [10.0, 10.0, 4.0, 4.0, 2.0, 2.0, 1.0, 1.0]
    site = next(mark for mark in chart.marks if mark.role == "site")
    assert (site.x, site.y) == (pytest.approx(300.0), pytest.approx(hours))
    assert hours == pytest.approx(4.0)
    assert len(chart.key) == len([line for line in chart.lines if line.role == "faint"])


def test_both_forms_of_chlorine_are_half_where_ph_is_pka():
    answer, chart = charted("chlorine/speciation")
    acid, ion = chart.lines
    assert acid.y + ion.y == pytest.approx(np.full(acid.x.shape, 100.0))
    assert np.interp(answer.pka, acid.x, acid.y) == pytest.approx(50.0, abs=0.05)
    assert chart.marks[0].y == pytest.approx(answer.hypochlorous_acid_share)


@pytest.mark.parametrize("path", pictured_paths())
def test_svg_keeps_its_text_and_tells_itself_in_words(path):
    answer, chart = charted(path)
    drawn = picture(answer)
    root = minidom.parseString(drawn.svg).documentElement  # noqa: S318 - of our own making
    assert root.getAttribute("role") == "img"
    elements = {element.getAttribute("id"): element for element in root.getElementsByTagName("*")}
    named = [elements[name].firstChild.data for name in root.getAttribute("aria-labelledby").split()]
    assert named == [chart.title, chart.description]
    words = " ".join(text.firstChild.data for text in root.getElementsByTagName("text") if text.firstChild)
    for expected in (
        chart.title,
        chart.y.title.split(" per ")[0],
        *(mark.name for mark in chart.marks if mark.role == "site"),
    ):
        assert expected in words
    assert "<script" not in drawn.svg
    assert 'href="http' not in drawn.svg
    assert picture(run(path, example(path))).svg == drawn.svg


@pytest.mark.parametrize("path", pictured_paths())
def test_png_is_whole_and_tells_itself_in_words(path):
    answer, chart = charted(path)
    data = picture(answer)._repr_png_()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    texts, at = {}, 8
    while at < len(data):
        (length,), kind = struct.unpack(">I", data[at : at + 4]), data[at + 4 : at + 8]
        body = data[at + 8 : at + 8 + length]
        if kind == b"tEXt":
            key, _, value = body.partition(b"\0")
            texts[key.decode()] = value.decode("latin-1")
        if kind == b"iTXt":
            key, _, rest = body.partition(b"\0")
            packed, rest = rest[0], rest[2:].split(b"\0", 2)[2]
            texts[key.decode()] = (zlib.decompress(rest) if packed else rest).decode()
        at += length + 12
    assert at == len(data)
    assert texts["Title"] == chart.title
    assert texts["Description"] == chart.description


def test_lines_and_levels_are_told_apart_without_colour():
    for styles in (rendering._LINES, rendering._LEVELS):
        looks = {(str(style["linestyle"]), style["linewidth"]) for style in styles.values()}
        assert len(looks) == len(styles)
    dashes = [str(style["linestyle"]) for style in (*rendering._LINES.values(), *rendering._LEVELS.values())]
    assert len(set(dashes)) == len(dashes) - 1  # the faint line differs from the main one by a third of its width
    markers = {(style["marker"], style["color"]) for style in rendering._MARKS.values()}
    assert len(markers) == len(rendering._MARKS)


NAMES = ["upper bound: plug flow, mixed", "the same in water as sampled in spring", "old lamp in a fouled sleeve"]


@pytest.mark.parametrize(
    "names", [[], NAMES[:1], NAMES[:2], NAMES + NAMES[:1], NAMES * 2, ["name upon name " * 12, "x"]]
)
def test_a_legend_of_many_long_names_stays_in_the_picture(names):
    x = np.linspace(0.0, 10.0, 5)
    lines = tuple(Line(x, x + number, name) for number, name in enumerate(names))
    chart = Chart("Lines", "Lines.", Axis("flow", "L/min"), Axis("dose", "mJ/cm2"), lines=lines)
    figure = rendering._drawn(chart)
    figure.draw_without_rendering()
    (axes,) = figure.axes
    right, top = figure.bbox.width, figure.bbox.height
    plot, title = axes.get_window_extent(), axes._left_title.get_window_extent()
    assert plot.height == pytest.approx(rendering._PLOT_HEIGHT * figure.dpi)
    assert title.y1 < top
    if not names:
        assert axes.get_legend() is None
        return
    legend = axes.get_legend()
    told = [text.get_text().replace("\n", " ") for text in legend.get_texts()]
    assert told == [name.strip() for name in names]
    for box in [text.get_window_extent() for text in legend.get_texts()]:
        assert 0.0 < box.x0 < box.x1 < right
        assert plot.y1 < box.y0 < box.y1 < title.y0
    svg = rendering.render(chart, "svg").decode()
    assert all(word in svg for name in names for word in name.split())


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("path", pictured_paths())
def test_served_at_the_question_and_to_a_post_and_cached(path, form):
    question = run(path, example(path)).question
    reply = get(f"{question}&format={form}")
    assert reply.status == 200
    assert reply.headers["content-type"] == {"svg": "image/svg+xml", "png": "image/png"}[form]
    assert reply.body == (
        picture(run(path, example(path))).svg.encode() if form == "svg" else picture(run(path, example(path))).png
    )
    assert reply.headers["cache-control"] == "public, max-age=3600"
    again = get(f"{question}&format={form}", {"if-none-match": reply.headers["etag"]})
    assert (again.status, again.body) == (304, b"")
    posted = post(f"/v1/{path}?format={form}", example(path))
    assert posted.body == reply.body
    assert get(question, {"accept": reply.headers["content-type"]}).body == reply.body


def test_refused_where_there_is_none():
    for reply in (
        post(f"/v1/{WITHOUT}?format=svg", example(WITHOUT)),
        post("/v1/uv/dose/batch?format=png", example("uv/dose", flow=["20 L/min", "30 L/min"])),
    ):
        assert reply.status == 406
        assert "picture" in reply.json()["detail"]
    with pytest.raises(NoPictureError, match="uv/derated-flow"):
        picture(run(WITHOUT, example(WITHOUT)))
    assert post("/v1/uv/dose?format=svg&pick=mean_dose", example("uv/dose")).status == 422


def test_the_document_tells_which_have_one():
    document = get("/openapi.json").json()
    schemas = document["components"]["schemas"]
    forms = {name: set(schemas[name]["enum"]) for name in ("AnswerFormat", "AnswerFormatOrPicture")}
    assert forms["AnswerFormatOrPicture"] - forms["AnswerFormat"] == set(FORMS)
    for path in calculations():
        item = document["paths"][f"/v1/{path}"]
        for method in ("get", "post"):
            pictured = path in pictured_paths()
            operation = item[method]
            taken = [*item.get("parameters", []), *operation.get("parameters", [])]
            named = [ref["$ref"].rpartition("/")[2] for ref in taken if "$ref" in ref]
            assert any(name in named for name in ("FormatOrPicture", "FormatOrPageOrPicture")) == pictured, (
                path,
                method,
            )
            response = operation["responses"]["200"]["$ref"].rpartition("/")[2]
            assert ("image/png" in document["components"]["responses"][response]["content"]) == pictured


def test_the_library_is_loaded_only_for_a_picture():
    program = (
        "import sys, dosewright.http.app, dosewright_sdk.pictures as p;"
        "from dosewright.engine.run import run;"
        "from dosewright.engine.registry import find;"
        "a = run('uv/dose', find('uv/dose').example); q = p.picture(a); assert 'matplotlib' not in sys.modules;"
        "q.svg; assert 'matplotlib' in sys.modules; assert 'matplotlib.pyplot' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", program], check=True, timeout=60)


@pytest.mark.parametrize(
    ("module", "target", "extra"),
    [
        ("matplotlib", "uv/dose?format=svg", "pictures"),
        ("typst", "chlorine/retest?format=pdf", "pages"),
        ("icalendar", "site/upkeep?format=ics", "pages"),
    ],
)
def test_without_the_library_it_says_what_to_install(monkeypatch, module: str, target: str, extra: str):
    for kept in (library, pdf._compiler):
        kept.cache_clear()
    monkeypatch.setitem(sys.modules, module, None)
    reply = post(f"/v1/{target}", example(target.partition("?")[0]))
    for kept in (library, pdf._compiler):
        kept.cache_clear()
    assert reply.status == 406
    assert f"need {module}" in reply.json()["detail"]
    assert f"pip install 'dosewright[{extra}]'" in reply.json()["detail"]


def test_saved_by_the_ending_of_its_name(tmp_path):
    drawn = picture(InProcess().uv.dose(**example("uv/dose")))
    assert drawn.save(tmp_path / "dose.svg").read_text(encoding="utf-8") == drawn._repr_svg_()
    assert drawn.save(str(tmp_path / "dose.PNG")).read_bytes() == drawn.png
    with pytest.raises(ValueError, match=r"\.svg or \.png"):
        drawn.save(tmp_path / "dose.jpg")
    assert "target" in repr(drawn)
