"""Vessels to chlorinate: volumes by hand, errors and warnings."""

from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assertions import codes
from dosewright.core.hydraulics import vessels as core
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright.tables import table
from dosewright.tables.chlorination import housing_volumes
from dosewright.topics.pipe.contracts.vessels import HousingSize

QUARTER = np.pi / 4


def ask(*vessels, **changes):
    return run(
        "chlorine/shock",
        {"vessels": list(vessels), "product": {"kind": "listed", "name": "household_bleach_6"}, "ph": "7", **changes},
    )


def volume(vessel):
    return ask(vessel).volume


def faults(vessel):
    with pytest.raises(RequestRefused) as refusal:
        ask(vessel)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}


@pytest.mark.parametrize(
    ("vessel", "litres"),
    [
        ({"kind": "well_screen", "diameter": "130 mm", "length": "6 m"}, QUARTER * 1.3**2 * 60),
        (
            {"kind": "gravel_pack", "borehole_diameter": "300 mm", "screen_outer_diameter": "150 mm", "length": "8 m",
             "porosity": "30 %"},
            0.3 * QUARTER * (3**2 - 1.5**2) * 80,
        ),
        (
            {"kind": "gravel_pack", "borehole_diameter": "300 mm", "screen_outer_diameter": "150 mm", "length": "8 m"},
            0.4 * QUARTER * (3**2 - 1.5**2) * 80,
        ),
        ({"kind": "cistern", "volume": "5000 L"}, 5000),
        ({"kind": "cistern", "water_depth": "1.5 m", "diameter": "2 m"}, QUARTER * 20**2 * 15),
        ({"kind": "cistern", "water_depth": "1.5 m", "length": "3 m", "width": "2 m"}, 9000),
        ({"kind": "pressure_tank", "volume": "160 L"}, 160),
        ({"kind": "pressure_tank", "volume": "160 L", "fill": "35 %"}, 56),
        (
            {"kind": "pressure_tank", "volume": "160 L", "tank": "diaphragm", "precharge": "2 bar",
             "system_pressure": "4 bar"},
            160 * (1 - (200 + 101.325) / (400 + 101.325)),
        ),
        (
            {"kind": "pressure_tank", "volume": "160 L", "tank": "air_over_water", "system_pressure": "4 bar"},
            160 * (1 - 101.325 / (400 + 101.325)),
        ),
        ({"kind": "filter_housing", "housing_size": "4.5x20"}, 9.5),
        ({"kind": "filter_housing", "volume": "3.3 L"}, 3.3),
        ({"kind": "dead_leg", "bore": "13 mm", "length": "2 m"}, QUARTER * 0.13**2 * 20),
    ],
)  # fmt: skip
def test_volume_by_hand(vessel, litres):
    assert volume(vessel) == pytest.approx(litres, rel=1e-12)


@pytest.mark.parametrize(
    ("cut_in", "cut_out", "published"),
    # Drawdown of captive-air tanks charged to the cut-in pressure, as share of the tank: trade tables, from memory.
    [(20, 40, 0.37), (30, 50, 0.31), (40, 60, 0.27)],
)
def test_water_behind_air_gives_the_trade_table_of_drawdown(cut_in, cut_out, published):
    psi = 6894.757293168
    share = core.water_behind_air(1.0, cut_in * psi, cut_out * psi)
    assert share == pytest.approx(published, abs=0.005)


@given(st.floats(0.0, 5e5), st.floats(0.0, 5e5), st.floats(1e3, 1e5))
def test_more_pressure_compresses_the_air_and_stores_more_water(precharge, over, more):
    water = core.water_behind_air(0.2, precharge, precharge + over)
    air = 0.2 - water
    assert air * (precharge + over + 101325.0) == pytest.approx(0.2 * (precharge + 101325.0), rel=1e-12)
    assert core.water_behind_air(0.2, precharge, precharge + over + more) > water
    assert core.water_behind_air(0.2, precharge + over, precharge) == 0.0


@given(st.floats(0.1, 2.0), st.floats(0.05, 0.95), st.floats(0.1, 50.0), st.floats(0.05, 0.6))
def test_pores_and_grains_fill_the_ring(outer, share, length, porosity):
    inner = outer * share
    pores = core.pore_volume(outer, inner, length, porosity)
    grains = core.pore_volume(outer, inner, length, 1.0 - porosity)
    assert pores + grains == pytest.approx(core.annulus_volume(outer, inner, length), rel=1e-12)


def test_a_box_and_its_errors():
    assert core.box_volume(2.0, 3.0, 0.5) == 3.0
    for bad in (lambda: core.box_volume(0.0, 1.0, 1.0), lambda: core.pore_volume(1.0, 0.5, 1.0, 1.0),
                lambda: core.water_behind_air(0.1, -1.0, 1.0)):  # fmt: skip
        with pytest.raises(ValueError, match="must"):
            bad()


def test_housings_are_the_cylinders_their_table_names():
    assert list(get_args(HousingSize)) == list(housing_volumes())
    for row in table("filter_housings").rows:
        cylinder = QUARTER * float(row["inside_diameter"]) ** 2 * float(row["inside_length"]) * 1e-6
        assert abs(cylinder - float(row["volume"])) <= 0.07, row["name"]
        assert row["source"] == "common practice, no source"


@pytest.mark.parametrize(
    ("vessel", "expected"),
    [
        ({"kind": "gravel_pack", "borehole_diameter": "150 mm", "screen_outer_diameter": "150 mm", "length": "8 m"},
         {("/vessels/0/screen_outer_diameter", "contradiction")}),
        ({"kind": "cistern"}, {("/vessels/0/volume", "required")}),
        ({"kind": "cistern", "water_depth": "1 m"}, {("/vessels/0/length", "required")}),
        ({"kind": "cistern", "diameter": "1 m"}, {("/vessels/0/water_depth", "required")}),
        ({"kind": "cistern", "water_depth": "1 m", "length": "2 m"}, {("/vessels/0/width", "required")}),
        ({"kind": "cistern", "water_depth": "1 m", "length": "2 m", "width": "2 m", "diameter": "3 m"},
         {("/vessels/0/diameter", "too_many")}),
        ({"kind": "cistern", "volume": "9 m3", "diameter": "3 m"}, {("/vessels/0/diameter", "too_many")}),
        ({"kind": "pressure_tank", "volume": "80 L", "fill": "40 %", "precharge": "2 bar"},
         {("/vessels/0/fill", "too_many")}),
        ({"kind": "pressure_tank", "volume": "80 L", "precharge": "2 bar"},
         {("/vessels/0/system_pressure", "required")}),
        ({"kind": "pressure_tank", "volume": "80 L", "system_pressure": "2 bar"},
         {("/vessels/0/precharge", "required")}),
        ({"kind": "pressure_tank", "volume": "80 L", "precharge": "2 bar", "system_pressure": "2 bar"},
         {("/vessels/0/system_pressure", "contradiction")}),
        ({"kind": "filter_housing"}, {("/vessels/0/volume", "required")}),
        ({"kind": "filter_housing", "volume": "1 L", "housing_size": "2.5x10"},
         {("/vessels/0/housing_size", "too_many")}),
        ({"kind": "dead_leg", "length": "2 m"}, {("/vessels/0/bore", "required")}),
    ],
)  # fmt: skip
def test_errors_point_at_the_field(vessel, expected):
    assert faults(vessel) == expected


@pytest.mark.parametrize(
    ("vessel", "code"),
    [
        ({"kind": "pressure_tank", "volume": "80 L"}, "tank_assumed_full"),
        ({"kind": "pressure_tank", "volume": "80 L", "fill": "100 %"}, "tank_assumed_full"),
        (
            {"kind": "pressure_tank", "volume": "80 L", "tank": "air_over_water", "system_pressure": "3 bar"},
            "air_dissolves",
        ),
        ({"kind": "pressure_tank", "volume": "80 L", "tank": "diaphragm", "fill": "30 %"}, "drain_tank_first"),
        ({"kind": "filter_housing", "housing_size": "2.5x10"}, "housing_volume_assumed"),
        ({"kind": "dead_leg", "bore": "13 mm", "length": "2 m"}, "dead_leg"),
    ],
)
def test_each_warning_appears_only_when_it_applies(vessel, code):
    assert code in codes(ask(vessel))
    assert code not in codes(ask({"kind": "plain_volume", "volume": "80 L"}))
    assert code not in codes(ask({"kind": "pressure_tank", "volume": "80 L", "fill": "40 %"}))
