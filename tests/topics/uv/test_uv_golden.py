"""Derating curves against rays followed one by one in mpmath: tests/reference/uv_golden.csv, made by uv_golden.py."""

from __future__ import annotations

import csv
import importlib.util
from itertools import groupby, pairwise
from pathlib import Path

import pytest

from dosewright.engine.run import run

REFERENCE = Path(__file__).parents[2] / "reference"
with (REFERENCE / "uv_golden.csv").open(encoding="utf-8", newline="") as lines:
    ROWS = list(csv.DictReader(lines))
ORGANISM = {"inactivation_rate": "0.12 cm2/mJ"}
PASSAGES = {
    "plug_flow": {"hydraulics": "plug_flow"},
    "tanks_in_series": {"hydraulics": "tanks_in_series", "tanks": "3", **ORGANISM},
    "laminar": {"hydraulics": "laminar", **ORGANISM},
}


def curve_of(row):
    return row["chamber"], row["field_model"], row["hydraulics"]


CURVES = {curve: list(rows) for curve, rows in groupby(sorted(ROWS, key=curve_of), curve_of)}


def asked(row):
    return {
        "chamber_bore": f"{row['bore']} mm",
        "sleeve_outer_diameter": f"{row['sleeve']} mm",
        "arc_length": f"{row['arc']} mm",
        "chamber_length": f"{row['length']} mm",
        "uvc_output": f"{row['output']} W",
        "lamp_ageing_factor": "80 %",
        "sleeve_fouling_factor": "85 %",
        "sleeve_transmittance": "90 %",
        "sleeve_wall": "1.5 mm",
        "n_air": "1.0003",
        "n_quartz": "1.5055",
        "n_water": "1.3757",
        "target_dose": "40 mJ/cm2",
        "field_model": row["field_model"],
        **PASSAGES[row["hydraulics"]],
    }


@pytest.mark.parametrize("curve", CURVES, ids="-".join)
def test_derating_curve_is_the_golden_one(curve):
    rows = CURVES[curve]
    uvts = ", ".join(row["uvt"] for row in rows)
    answer = run("uv/derating-curve", {**asked(rows[0]), "uvt": "90 %", "uvts": f"{uvts} %"})
    flows = [point.derated_flow for point in answer.by_uvt]
    assert flows == pytest.approx([float(row["derated_flow"]) for row in rows], rel=1e-6)


@pytest.mark.parametrize("curve", [curve for curve in CURVES if curve[1] == "refracted_line"], ids="-".join)
def test_derated_flow_and_the_dose_at_it_are_golden_too(curve):
    row = CURVES[curve][0]
    request = {**asked(row), "uvt": f"{row['uvt']} %"}
    assert run("uv/derated-flow", request).derated_flow == pytest.approx(float(row["derated_flow"]), rel=1e-6)
    dose = run("uv/dose", {**request, "flow": f"{row['derated_flow']} L/min"})
    assert dose.reduction_equivalent_dose == pytest.approx(40.0, rel=2e-6)


def test_golden_curves_keep_the_order_that_physics_sets():
    for rows in CURVES.values():
        rising = sorted(rows, key=lambda row: float(row["uvt"]))
        flows = [float(row["derated_flow"]) for row in rising]
        assert all(low < high for low, high in pairwise(flows))
    for (chamber, model, hydraulics), rows in CURVES.items():
        if hydraulics == "plug_flow":
            continue
        best = {row["uvt"]: float(row["derated_flow"]) for row in CURVES[chamber, model, "plug_flow"]}
        assert all(float(row["derated_flow"]) < best[row["uvt"]] for row in rows)


def test_the_file_is_what_its_script_makes():
    spec = importlib.util.spec_from_file_location("uv_golden", REFERENCE / "uv_golden.py")
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    assert len(ROWS) == len(made.CHAMBERS) * (4 * len(made.UVTS) * 2 + len(made.LAMINAR_UVTS))
    for name, uvt, model in (("narrow", "60", "line_source"), ("wide", "99.9", "radial"), ("long", "90", "radial")):
        for hydraulics, flow in made.flows(name, uvt, model):
            (row,) = [row for row in CURVES[name, model, hydraulics] if row["uvt"] == uvt]
            assert float(row["derated_flow"]) == pytest.approx(float(flow), rel=1e-11)
