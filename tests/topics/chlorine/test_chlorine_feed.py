"""Feed pump: setting, tank, errors."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assertions import codes, faults
from dosewright.engine.run import run
from requests_chlorine import FEED


def at(path, request, **units):
    return run(path, {**request, "answer_units": units} if units else request)


def test_feed_by_hand():
    given_ = at("chlorine/feed", FEED, feed_rate="mL/min", product_volume="L", chlorine_feed="g", tank_duration="d")
    assert given_.dose == pytest.approx(3)
    assert given_.feed_rate == pytest.approx(30_000 * 3 / 6000)
    assert given_.pump_setting == pytest.approx(25)
    assert given_.pump_speed == pytest.approx(25)
    assert given_.product_volume == pytest.approx(5)
    assert given_.water_volume == pytest.approx(95)
    assert given_.daily_solution == pytest.approx(0.5)
    assert given_.tank_duration == pytest.approx(200)
    assert given_.chlorine_feed == pytest.approx(30 * 3e-3 * 1440)


@given(st.floats(1.0, 500.0), st.floats(0.1, 10.0), st.floats(0.0, 20.0), st.floats(0.5, 100.0))
def test_chlorine_fed_equals_the_dose(flow, wanted, demand, strength):
    request = {
        **FEED,
        "flow": f"{flow!r} L/min",
        "free_chlorine": f"{wanted!r} mg/L",
        "chlorine_demand": f"{demand!r} mg/L",
        "solution_strength": f"{strength!r} g/L",
    }
    given_ = at("chlorine/feed", request, feed_rate="L/min", product_volume="L")
    assert given_.feed_rate * strength == pytest.approx(flow * (wanted + demand) / 1000, rel=1e-12)
    assert given_.product_volume * 120 == pytest.approx(100 * strength, rel=1e-12)
    assert given_.product_volume + given_.water_volume == pytest.approx(100, rel=1e-12)


def test_stroke_times_speed_is_the_setting():
    given_ = run("chlorine/feed", {**FEED, "stroke": "40 %"})
    assert given_.pump_speed * 0.40 == pytest.approx(given_.pump_setting, rel=1e-12)


def test_undiluted_product_is_fed_without_a_solution():
    plain = {key: FEED[key] for key in ("flow", "free_chlorine", "product")}
    given_ = at("chlorine/feed", plain, feed_rate="mL/min", solution_strength="g/L")
    assert given_.solution_strength == pytest.approx(120)
    assert given_.feed_rate == pytest.approx(30_000 * 1 / 120_000)
    assert given_.pump_setting is None
    assert given_.water_volume is None
    assert "demand_not_included" in codes(given_)


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"solution_strength": "130 g/L"}, {("/solution_strength", "contradiction")}),
        ({"product": {"kind": "granules", "available_chlorine": "65 %"}, "solution_strength": None},
         {("/solution_strength", "required")}),
        ({"product": {"kind": "listed", "name": "calcium_hypochlorite_70"}, "solution_strength": None},
         {("/solution_strength", "required")}),
        ({"free_chlorine": "0 mg/L", "chlorine_demand": "0 mg/L"}, {("/free_chlorine", "contradiction")}),
        ({"product": {"kind": "liquid"}}, {("/product/sodium_hypochlorite", "required")}),
        ({"flow": "0 L/min"}, {("/flow", "out_of_range")}),
    ],
)  # fmt: skip
def test_impossible_feeds_are_rejected(changes, expected):
    assert faults("chlorine/feed", {**FEED, **changes}) == expected


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"pump_capacity": "10 mL/min"}, "pump_too_small"),
        ({"pump_capacity": "2 L/min"}, "pump_too_large"),
        ({"free_chlorine": "5 mg/L"}, "above_drinking_limit"),
        ({"chlorine_demand": "0 mg/L"}, "demand_not_included"),
    ],
)
def test_feed_warnings_appear_only_when_they_apply(changes, code):
    assert code not in codes(run("chlorine/feed", FEED))
    assert code in codes(run("chlorine/feed", {**FEED, **changes}))


def test_granules_make_up_a_tank_by_mass():
    granules = {"kind": "granules", "available_chlorine": "65 %"}
    given_ = at("chlorine/feed", {**FEED, "product": granules}, product_mass="g")
    assert given_.product_mass == pytest.approx(100 * 6 / 0.65)
    assert given_.product_volume is None
