"""Every cell of the CT tables and every baffling factor, against the copy of the collected figures and each other."""

import csv
from pathlib import Path
from typing import get_args

import numpy as np
import pytest

from dosewright.core.chlorine.contact_time import profiling_regression, smith_regression
from dosewright.tables import table
from dosewright.tables.contact_time import baffling_factors, ct_table, ct_table_names
from dosewright.topics.chlorine.contracts.contact_time import Baffling, Disinfectant, Organism

REFERENCE = Path(__file__).parents[2] / "reference"


def copied(name):
    return list(csv.DictReader((REFERENCE / f"{name}.csv").read_text("utf-8").splitlines()))


def giardia():
    return ct_table("free_chlorine", "giardia")


def test_every_giardia_cell_is_that_of_the_copy():
    copy = {
        (row["table"], float(row["water_temperature"]), float(row["ph"]), float(row["residual"])): row
        for row in copied("ct_giardia_chlorine")
        if row["log"] == "3"
    }
    shipped = table("ct_giardia_chlorine").rows
    assert len(shipped) == len(copy) == 588
    upgraded = 0
    for row in shipped:
        key = (row["table"], float(row["water_temperature"]), float(row["ph"]), float(row["residual"]))
        assert float(row["ct"]) == float(copy[key]["ct"]), key
        if row["status"] == "found":
            assert row["seen"], key
            upgraded += copy[key]["status"] == "memory"
        else:
            assert copy[key]["status"] == "memory", key
    assert upgraded == 1


# The two places where what was read stands against what was recalled.
READ_AGAINST_RECALLED = {("E-9", "5", "4"): ("33.4", "33.5"), ("E-9", "15", "4"): ("16.7", "16.8")}


def test_every_other_cell_is_that_of_the_copy():
    copy = {}
    for row in copied("ct_other"):
        name, disinfectant = row["table"].replace("40CFR141", "40 CFR 141"), row["disinfectant"].replace(" ", "_")
        ph = row["ph"].replace("not stated", "")
        copy[name, disinfectant, row["temperature"].lstrip("<="), ph, row["log"]] = row
    shipped = table("ct_other").rows
    assert len(shipped) == len(copy) == 370
    for row in shipped:
        key = (row["table"], row["disinfectant"], row["water_temperature"], row["ph"], row["log"])
        read = READ_AGAINST_RECALLED.get((row["table"], row["water_temperature"], row["log"]))
        if read:
            assert (copy[key]["ct"], row["ct"]) == read
            assert row["status"] == "found"
            continue
        assert float(row["ct"]) == float(copy[key]["ct"]), key
        assert row["status"] == copy[key]["status"], key
        assert bool(row["seen"]) == (row["status"] == "found"), key


def test_every_baffling_factor_is_that_of_the_copy():
    copy = {(row["issuer"], row["condition"]): float(row["factor"]) for row in copied("baffling_factors")}
    shipped = {row["name"]: (row["source"], float(row["factor"])) for row in table("baffling_factors").rows}
    guidance = {name: factor for name, (source, factor) in shipped.items() if "Plant Design" in source}
    assert sorted(guidance.values()) == sorted(
        factor for (issuer, _), factor in copy.items() if issuer == "EPA guidance"
    )
    assert shipped["diffuser_walls"][1] == copy["Pennsylvania DEP", "unbaffled with diffuser walls or plates"]
    assert shipped["near_plug_flow"][1] == copy["Pennsylvania DEP", "near plug flow"]
    assert list(get_args(Baffling)) == list(baffling_factors())


def test_names_in_the_contract_are_those_of_the_tables():
    assert {disinfectant for disinfectant, _ in ct_table_names()} == set(get_args(Disinfectant))
    assert {organism for _, organism in ct_table_names()} == set(get_args(Organism))


def test_printed_half_logs_are_the_three_log_cell_rounded():
    cells = {
        (float(row["ph"]), float(row["residual"])): float(row["ct"])
        for row in table("ct_giardia_chlorine").rows
        if row["water_temperature"] == "0.5"
    }
    printed = [row for row in copied("ct_giardia_chlorine") if row["log"] not in {"3", "3.0"}]
    assert len(printed) == 10
    for row in printed:
        scaled = cells[float(row["ph"]), float(row["residual"])] * float(row["log"]) / 3
        assert abs(scaled - float(row["ct"])) <= 0.5, row


def test_warmer_giardia_cells_are_fixed_shares_of_the_five_degree_ones():
    values = giardia().values[0]
    for place, share in ((2, 0.75), (3, 0.5), (4, 0.375), (5, 0.25)):
        assert np.max(np.abs(values[place] - share * values[1])) < 0.77


def test_giardia_cells_rise_with_ph_and_residual_and_fall_with_temperature():
    values = giardia().values[0]
    assert np.all(np.diff(values, axis=0) < 0)
    assert np.all(np.diff(values, axis=1) > 0)
    assert np.all(np.diff(values, axis=2) >= 0)


@pytest.mark.parametrize("pair", [pair for pair in ct_table_names() if pair != ("free_chlorine", "giardia")])
def test_other_tables_fall_with_temperature_and_rise_with_logs(pair):
    values = ct_table(*pair).values
    assert np.all(np.diff(values, axis=1) <= 0)
    assert np.all(np.diff(values, axis=0) >= 0)


def test_the_regulation_rounds_the_manual():
    rows = [row for row in table("ct_other").rows if row["use"] == "comparison"]
    assert len(rows) == 18
    for row in rows:
        cells = ct_table(row["disinfectant"], row["organism"])
        place = list(np.round(cells.temperatures - 273.15, 6)).index(float(row["water_temperature"]))
        digits = 0.5 * 10.0 ** -len(row["ct"].partition(".")[2])
        assert abs(cells.values[-1, place, 0, 0] - float(row["ct"])) <= digits, row


def test_cryptosporidium_rows_follow_the_regulation_equations():
    # 40 CFR 141.720(b): log = 0.001506 x 1.09116^T x CT (read), and 0.0397 x 1.09757^T x CT (recalled).
    for disinfectant, first, base, off in (
        ("chlorine_dioxide", 0.001506, 1.09116, 0.015),
        ("ozone", 0.0397, 1.09757, 0.047),
    ):
        cells = ct_table(disinfectant, "cryptosporidium")
        celsius = cells.temperatures - 273.15
        log = first * base**celsius * cells.values[:, :, 0, 0]
        assert np.max(np.abs(log / cells.logs[:, np.newaxis] - 1.0)) < off


def every_cell():
    cells = giardia()
    grid = np.meshgrid(cells.logs, cells.temperatures, cells.phs, cells.residuals, indexing="ij")
    return cells.values, grid


def test_one_regression_falls_below_the_table_in_nearly_half_its_cells_and_the_other_in_none():
    values, (logs, temperatures, phs, residuals) = every_cell()
    smith = smith_regression(logs, temperatures, phs, residuals)
    below = smith < values - 0.5
    assert below.sum() == 282
    assert [int(below[:, place].sum()) for place in range(6)] == [60, 21, 78, 21, 82, 20]
    profiling = profiling_regression(logs, temperatures, phs, residuals)
    assert np.all(profiling > values)
    assert np.min(profiling / values - 1.0) == pytest.approx(0.0001, abs=5e-5)
    assert np.max(profiling / values - 1.0) == pytest.approx(0.174, abs=5e-4)


def test_furthest_cells_of_the_regressions():
    assert smith_regression(3.0, 283.15, 6.0, 0.4e-3) == pytest.approx(64.8, abs=0.05)
    assert smith_regression(3.0, 273.65, 9.0, 3.0e-3) == pytest.approx(504, abs=0.5)
    assert profiling_regression(3.0, 293.15, 6.0, 0.8e-3) == pytest.approx(39.00, abs=0.005)
    assert profiling_regression(3.0, 298.15, 9.0, 0.4e-3) == pytest.approx(82.2, abs=0.05)


def test_every_table_row_has_its_status():
    for name in ("ct_giardia_chlorine", "ct_other", "baffling_factors"):
        for row in table(name).rows:
            assert row["status"] in {"found", "memory"}, (name, row)
