"""Clearance: by hand, every mounting, fit, drawing, batch, errors."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run

PATH = "site/clearance"
# Invented devices.
CHAMBER = {"lamp_length": "860 mm", "sleeve_length": "900 mm", "chamber_length": "920 mm", "chamber_diameter": "90 mm"}
TANK = {"kind": "tank", "purpose": "softener", "diameter": "260 mm", "height": "1.4 m", "clearance_above": "300 mm"}
HOUSING = {
    "kind": "housing",
    "purpose": "fine_filter",
    "diameter": "140 mm",
    "height": "330 mm",
    "service_clearance": "75 mm",
}
CONTROLS = {"kind": "controls", "width": "250 mm", "height": "200 mm", "depth": "120 mm"}
TRAIN = [TANK, HOUSING, CONTROLS]
SVG = "{http://www.w3.org/2000/svg}"


def asked(**changes):
    return run(PATH, {**CHAMBER, "pipe_height": "1.1 m", **changes})


def test_clearance_by_hand():
    answer = asked()
    assert answer.lamp_clearance == pytest.approx(1000.0)  # the sleeve of 900 mm and 100 mm for the hand
    assert asked(sleeve_length=None).lamp_clearance == pytest.approx(960.0)
    assert asked(hand_clearance="0 mm").lamp_clearance == pytest.approx(900.0)
    assert answer.lowest_point == pytest.approx(1.1 - 0.46)
    assert answer.highest_point == pytest.approx(1.1 + 0.46 + 1.0)
    assert answer.footprint_width == pytest.approx(0.09)


@pytest.mark.parametrize(
    ("mounting", "low", "high", "width"),
    [
        ("vertical_drawn_up", 0.64, 2.56, 0.09),
        ("vertical_drawn_down", -0.36, 1.56, 0.09),
        ("horizontal_drawn_left", 1.055, 1.145, 1.92),
        ("horizontal_drawn_right", 1.055, 1.145, 1.92),
    ],
)
def test_each_mounting(mounting, low, high, width):
    answer = asked(mounting=mounting, ceiling_height="2.6 m", wall_width="2 m")
    assert answer.lowest_point == pytest.approx(low)
    assert answer.highest_point == pytest.approx(high)
    assert answer.footprint_width == pytest.approx(width)
    assert answer.clears_floor is (low >= 0.0)
    assert ("reaches_floor" in codes(answer)) is (low < 0.0)
    (room,) = (entry for entry in answer.mountings if entry.mounting == mounting)
    assert room.height == pytest.approx(high - low)
    assert room.width == pytest.approx(width)
    assert room.fits is (low >= 0.0)
    assert max(room.clearance_above, room.clearance_below, room.clearance_beside) == pytest.approx(1000.0)


def test_the_train_by_hand():
    answer = asked(devices=TRAIN, ceiling_height="2.6 m", wall_width="1.1 m")
    assert answer.footprint_width == pytest.approx(0.26 + 0.14 + 0.25 + 0.09 + 3 * 0.15)
    assert answer.footprint_depth == pytest.approx(0.26)
    assert answer.fits_width is False
    assert "wider_than_wall" in codes(answer)
    tank, housing, controls, chamber = answer.devices
    assert (tank.left, tank.bottom, tank.top, tank.service_top) == pytest.approx((0.0, 0.0, 1.4, 1.7))
    assert (housing.left, housing.top, housing.bottom) == pytest.approx((0.41, 1.1, 0.77))
    assert housing.service_bottom == pytest.approx(0.695)
    assert chamber.left == pytest.approx(1.1)
    assert controls.bottom == pytest.approx(max(tank.top, housing.top, chamber.top))


@settings(max_examples=30)
@given(st.permutations(TRAIN), st.floats(0.5, 2.0), st.sampled_from(["vertical_drawn_up", "horizontal_drawn_left"]))
def test_controls_are_above_everything_with_water_and_nothing_overlaps(devices, pipe_height, mounting):
    answer = asked(devices=devices, pipe_height=f"{pipe_height} m", mounting=mounting)
    wet = [device for device in answer.devices if device.name != "controls"]
    (controls,) = (device for device in answer.devices if device.name == "controls")
    assert all(controls.bottom >= device.top for device in wet)
    for one, other in zip(answer.devices, answer.devices[1:], strict=False):
        assert one.left + one.width + 0.15 == pytest.approx(other.left)
    assert answer.devices[-1].name == "ultraviolet chamber"


@settings(max_examples=30)
@given(st.floats(200, 1500), st.floats(1.0, 1.5), st.floats(0, 400))
def test_a_longer_lamp_or_more_hand_clearance_never_needs_less_space(lamp, longer, hand):
    base = {"sleeve_length": None, "chamber_length": "1600 mm"}
    one = asked(**base, lamp_length=f"{lamp} mm", hand_clearance=f"{hand} mm")
    other = asked(**base, lamp_length=f"{lamp * longer} mm", hand_clearance=f"{hand + 1} mm")
    assert one.lamp_clearance < other.lamp_clearance
    assert one.highest_point < other.highest_point


def shapes(drawing):
    return ET.fromstring(drawing)  # noqa: S314 - our own drawing


def test_the_drawing_is_to_scale_and_described_in_words():
    answer = asked(devices=TRAIN, ceiling_height="2.6 m", include_drawing=True)
    root = shapes(answer.drawing)
    assert root.get("role") == "img"
    assert {root[0].get("id"), root[1].get("id")} == set(root.get("aria-labelledby").split())
    assert "ultraviolet chamber: 90 x 920 mm" in root.find(f"{SVG}desc").text
    solid = [rect for rect in root.iter(f"{SVG}rect") if rect.get("stroke-width") == "2.5"]
    dashed = [rect for rect in root.iter(f"{SVG}rect") if rect.get("stroke-dasharray")]
    sizes = [(260, 1400), (140, 330), (250, 200), (90, 920)]
    scale = float(solid[0].get("height")) / 1400
    for rect, (width, height) in zip(solid, sizes, strict=True):
        assert float(rect.get("width")) == pytest.approx(width * scale, abs=0.11)
        assert float(rect.get("height")) == pytest.approx(height * scale, abs=0.11)
    assert [round(float(rect.get("height")) / scale, -1) for rect in dashed] == pytest.approx([300, 80, 1000], abs=10)
    texts = [text.text for text in root.iter(f"{SVG}text")]
    assert "1000 mm" in texts
    assert "1 softener: 260 x 1400 mm (10.2 x 55.1 in), on the floor" in texts
    # Every dashed room touches its body: the chamber's from its top edge upward.
    room, body = dashed[-1], solid[-1]
    assert float(room.get("y")) + float(room.get("height")) == pytest.approx(float(body.get("y")), abs=0.11)


@settings(max_examples=30)
@given(
    st.sampled_from(["vertical_drawn_up", "vertical_drawn_down", "horizontal_drawn_left", "horizontal_drawn_right"]),
    st.floats(0.3, 2.5),
    st.lists(st.sampled_from(TRAIN), max_size=6).filter(lambda devices: devices.count(CONTROLS) <= 3),
    st.none() | st.floats(1.0, 4.0),
)
def test_everything_is_drawn_inside_the_sheet_in_grey(mounting, pipe_height, devices, ceiling):
    more = {"devices": devices or None, "ceiling_height": ceiling and f"{ceiling} m", "pipe_height": f"{pipe_height} m"}
    drawing = asked(mounting=mounting, include_drawing=True, **more).drawing
    root = shapes(drawing)
    width, height = float(root.get("width")), float(root.get("height"))
    for rect in root.iter(f"{SVG}rect"):
        if rect.get("x") is not None:
            assert 0.0 <= float(rect.get("x")) <= float(rect.get("x")) + float(rect.get("width")) <= width
            assert 0.0 <= float(rect.get("y")) <= float(rect.get("y")) + float(rect.get("height")) <= height
    for text in root.iter(f"{SVG}text"):
        assert 0.0 <= float(text.get("x")) <= width
        assert 0.0 <= float(text.get("y")) <= height
    for colour in re.findall("#([0-9a-f]{3,6})\\b", drawing):
        assert len(set(colour)) == 1 or (len(colour) == 6 and colour[:2] == colour[2:4] == colour[4:])


def test_no_drawing_unless_requested_and_the_same_in_any_unit():
    assert asked().drawing is None
    metric = asked(devices=TRAIN, include_drawing=True, units="metric").drawing
    assert asked(devices=TRAIN, include_drawing=True, units="us").drawing == metric


def test_a_batch_equals_single_calls_including_drawings():
    lengths = ["860 mm", "400 mm", "1200 mm"]
    heights = ["1.1 m", "1.5 m", "0.7 m"]
    fixed = {"devices": TRAIN, "include_drawing": True, "ceiling_height": "2.4 m"}
    batch = run_batch(PATH, {**CHAMBER, **fixed, "lamp_length": lengths, "pipe_height": heights})
    for row in range(3):
        single = asked(**fixed, lamp_length=lengths[row], pipe_height=heights[row])
        assert batch["drawing"][row] == single.drawing
        assert batch["lamp_clearance"][row] == single.lamp_clearance
        assert batch["clears_ceiling"][row] == single.clears_ceiling
    many = run_batch(PATH, {**CHAMBER, "lamp_length": {"value": np.full(5000, 860.0), "unit": "mm"}})
    assert many["drawing"] == [None] * 5000
    with pytest.raises(RequestRefused):
        run_batch(
            PATH, {**CHAMBER, "include_drawing": True, "lamp_length": {"value": np.full(1001, 860.0), "unit": "mm"}}
        )


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"lamp_length": "2 m"}, ("/lamp_length", "contradiction")),
        ({"devices": [CONTROLS] * 4}, ("/devices/3/kind", "too_many")),
        ({"mounting": "sideways"}, ("/mounting", "unknown_choice")),
    ],
)
def test_refusals(changes, fault):
    with pytest.raises(RequestRefused) as refusal:
        asked(**changes)
    assert [(entry.pointer, entry.code) for entry in refusal.value.faults] == [fault]


@pytest.mark.parametrize(
    ("mounting", "code"), [("vertical_drawn_down", "lamp_plug_below"), ("horizontal_drawn_left", "air_in_chamber")]
)
def test_each_mounting_has_its_warning(mounting, code):
    answer = asked(mounting=mounting)
    assert code in codes(answer)
    assert {"glass_parts", "controls_above_plumbing", "lamp_mercury"} <= {entry.code for entry in answer.cautions}


@pytest.mark.parametrize(
    "changes", [{"sleeve_length": "90 mm"}, {"sleeve_length": "1.4 m"}, {"chamber_length": "500 mm"}]
)
def test_lengths_that_do_not_belong_to_one_unit_give_a_warning(changes):
    assert "lengths_disagree" in codes(asked(**changes))
    assert "lengths_disagree" not in codes(asked())
    assert "lengths_disagree" not in codes(asked(sleeve_length="1000 mm", chamber_length="800 mm"))
