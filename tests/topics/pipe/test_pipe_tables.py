"""Pipe and fitting tables: printed figures compared with their SI columns, their standards' rules, and each other."""

from decimal import Decimal
from itertools import pairwise

import pytest
from fluids.piping import nearest_pipe

from dosewright.core.hydraulics.friction import friction_factor
from dosewright.core.hydraulics.losses import two_constant_coefficient
from dosewright.tables import table
from dosewright.tables.fittings import fittings
from dosewright.tables.pipes import general_velocity_limits, hazen_williams_validity, pipe_materials

NAMES = ["pipe_dimensions", "pipe_materials", "roughness", "hazen_williams_c", "velocity_limits", "fitting_losses"]
SI = {"in": Decimal("0.0254"), "mm": Decimal("0.001"), "ft/s": Decimal("0.3048"), "ft": Decimal("0.3048")}
DIMENSIONS = table("pipe_dimensions").rows


@pytest.mark.parametrize("name", NAMES)
def test_table_states_its_source(name):
    about = table(name).about
    for entry in ("title", "source", "section", "year", "units", "checked", "settled"):
        assert entry in about, entry
    for row in table(name).rows:
        if "source" in row:
            assert row["source"], row
            assert row["status"] in {"found", "memory", "computed"}, row


@pytest.mark.parametrize("column", ["outer_diameter", "wall", "bore"])
def test_dimensions_are_the_printed_figures(column):
    for row in DIMENSIONS:
        assert Decimal(row[column]) == Decimal(row[f"printed_{column}"]) * SI[row["printed_unit"]], row


def test_other_tables_are_the_printed_figures():
    for row in table("roughness").rows:
        assert Decimal(row["roughness_high"]) == Decimal(row["printed_high"]) * SI[row["printed_unit"]]
    for row in table("velocity_limits").rows:
        if row["velocity_limit"]:
            assert Decimal(row["velocity_limit"]) == Decimal(row["printed_low"]) * SI[row["printed_unit"]]
    for row in table("fitting_losses").rows:
        if row["equivalent_length"]:
            assert Decimal(row["equivalent_length"]) == Decimal(row["printed_equivalent_length_ft"]) * SI["ft"]


def test_bore_is_outer_diameter_less_two_walls():
    for row in DIMENSIONS:
        digits = 0.0011 * float(SI[row["printed_unit"]]) * (1 if row["printed_unit"] == "in" else 20)
        bore = float(row["outer_diameter"]) - 2.0 * float(row["wall"])
        assert float(row["bore"]) == pytest.approx(bore, abs=digits), row


def test_average_bore_is_a_little_smaller():
    for material in pipe_materials().values():
        for size in material.sizes.values():
            if size.average_bore is not None:
                assert 0.96 * size.bore < size.average_bore < size.bore


@pytest.mark.parametrize(("key", "schedule"), [("steel_schedule_40", "40"), ("steel_schedule_80", "80")])
def test_steel_against_the_library(key, schedule):
    for size in pipe_materials()[key].sizes.values():
        whole, _, part = size.nominal_size.rpartition("-")
        top, _, bottom = part.partition("/")
        inches = float(whole or 0) + float(top) / float(bottom or 1)
        _, bore, outer, wall = nearest_pipe(NPS=inches, schedule=schedule)
        assert (size.bore, size.outer_diameter, size.wall) == pytest.approx((bore, outer, wall), abs=1.1e-5)


@pytest.mark.parametrize(
    ("series", "ratio", "floor"),
    [("pe_dr9", 9, 0.062), ("pe_dr11", 11, 0.062), ("pe_dr13_5", 13.5, 0.062), ("cpvc_sdr11", 11, 0.068)],
)
def test_walls_follow_the_ratio(series, ratio, floor):
    for row in DIMENSIONS:
        if row["series"] == series:
            wall = max(float(row["printed_outer_diameter"]) / ratio, floor)
            assert float(row["printed_wall"]) == pytest.approx(wall, abs=0.0011)


def test_every_material_is_complete():
    assert len(pipe_materials()) >= 20
    for material in pipe_materials().values():
        assert len(material.sizes) >= 6
        bores = [size.bore for size in material.sizes.values()]
        assert bores == sorted(bores)
        assert 0.0 <= material.roughness < 1e-3
        assert 90.0 <= material.hazen_williams_c <= 150.0
        assert material.roughness_source
        assert material.hazen_williams_source
        limits = material.velocity_limits
        assert limits[0].lowest_temperature == float("-inf")
        assert limits[-1].highest_temperature == float("inf")
        for colder, warmer in pairwise(limits):
            assert colder.highest_temperature == warmer.lowest_temperature
            assert colder.velocity_limit > warmer.velocity_limit


def test_figures_from_memory_say_so():
    assert "from memory" in pipe_materials()["pex_sdr9"].hazen_williams_source
    assert "from memory" not in pipe_materials()["copper_type_l"].hazen_williams_source
    assert "from memory" in pipe_materials()["pe_sidr7"].sizes["1"].source


@pytest.mark.parametrize(
    ("material", "feet_a_second"),
    [
        ("copper_type_l", [8.0, 5.0, 2.0]),
        ("pex_sdr9", [10.0, 8.0]),
        ("pvc_schedule_40", [5.0]),
        ("galvanized_steel_schedule_40", [8.0]),
    ],
)
def test_velocity_limits(material, feet_a_second):
    limits = pipe_materials()[material].velocity_limits
    assert [limit.velocity_limit / 0.3048 for limit in limits] == pytest.approx(feet_a_second, rel=1e-12)
    assert all(limit.source for limit in limits)


def test_hot_water_starts_where_the_codes_say():
    cold, hot, very_hot = pipe_materials()["copper_type_l"].velocity_limits
    assert cold.highest_temperature == pytest.approx((110.0 - 32.0) / 1.8 + 273.15, abs=0.004)
    assert hot.highest_temperature == (140.0 - 32.0) / 1.8 + 273.15
    assert very_hot.highest_temperature == float("inf")


def test_general_limit():
    (limit,) = general_velocity_limits()
    assert limit.velocity_limit == pytest.approx(8.0 * 0.3048, rel=1e-12)


def test_steel_is_not_as_smooth_as_drawn_tubing():
    assert pipe_materials()["steel_schedule_40"].roughness == 4.5e-5
    assert pipe_materials()["copper_type_l"].roughness == 1.5e-6


def test_each_fitting_has_one_default_row():
    defaults = [row["fitting"] for row in table("fitting_losses").rows if row["default"]]
    assert len(defaults) == len(set(defaults)) == len(fittings())
    for fitting in fittings().values():
        assert (fitting.loss_coefficient > 0) != (fitting.k1 > 0)


def test_fittings_agree_with_published_equivalent_lengths():
    """Hooper's constants in schedule 40 bores against CIDWT 2008: the methods differ by up to a factor of two."""
    compared = 0
    for row in table("fitting_losses").rows:
        fitting = fittings().get(row["fitting"])
        if row["method"] != "equivalent_length" or row["nominal_size"] == "3/8" or fitting is None or not fitting.k1:
            continue
        bore = pipe_materials()["steel_schedule_40"].sizes[row["nominal_size"]].bore
        factor = friction_factor(5e4, 4.5e-5 / bore)
        coefficient = two_constant_coefficient(5e4, bore, fitting.k1, fitting.k_infinity)
        length = coefficient * bore / factor
        assert 0.45 < length / float(row["equivalent_length"]) < 2.2, row
        compared += 1
    assert compared >= 35


def test_range_of_hazen_williams():
    validity = hazen_williams_validity()
    assert (validity.lowest_temperature, validity.highest_temperature) == (278.15, 298.15)
    assert validity.smallest_bore == 0.05
    assert "no source" in validity.source
