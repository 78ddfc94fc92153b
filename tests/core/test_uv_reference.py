"""Fluence rate, dose and derating against the reference values of tests/reference/uv.csv."""

import csv
from pathlib import Path

import numpy as np
import pytest

from dosewright.core.hydraulics import annulus
from dosewright.core.light import derating, dose, fluence
from dosewright.core.light.optics import SleeveOptics

with (Path(__file__).parents[1] / "reference" / "uv.csv").open(encoding="utf-8", newline="") as lines:
    ROWS = list(csv.DictReader(lines))

CM, LITRE_PER_MINUTE, PER_MJ_CM2 = 0.01, 1e-3 / 60.0, 0.1
SI = {"mW/cm2": 10.0, "mJ/cm2": 10.0, "L/min": LITRE_PER_MINUTE, "s": 1.0}


class Case:
    """One row in SI."""

    def __init__(self, row):
        self.row = row
        self.lamp = {
            "power": float(row["power"] or 1.0),
            "absorption": self.absorption("uvt"),
            "arc_length": float(row["arc_length"]) * CM,
        }
        self.sleeve_radius = float(row["sleeve_radius"]) * CM
        self.sleeve = None
        if row["sleeve_inner_radius"]:
            wall = self.sleeve_radius - float(row["sleeve_inner_radius"]) * CM
            quartz = float(row["quartz_absorption"]) / CM
            self.sleeve = SleeveOptics(wall, quartz, 1.0003, 1.5055, 1.3757, row["emission"])

    def absorption(self, column):
        return dose.absorption_coefficient(float(self.row[column]) / 100.0, CM)

    def number(self, column, factor=1.0):
        return float(self.row[column]) * factor

    def volume(self):
        return annulus.volume(self.number("bore_radius", CM), self.sleeve_radius, self.number("chamber_length", CM))

    def average(self, **changed):
        chamber = {
            "chamber_length": self.number("chamber_length", CM),
            "sleeve_radius": self.sleeve_radius,
            "bore_radius": self.number("bore_radius", CM),
            "sleeve": self.sleeve,
        }
        return fluence.chamber_average(**{**self.lamp, **chamber, **changed})

    def time(self):
        return dose.residence_time(self.volume(), self.number("flow", LITRE_PER_MINUTE))

    def mean_dose(self):
        return dose.mean_dose(self.average(), self.time())

    def organism(self):
        return self.number("inactivation_rate", PER_MJ_CM2), self.number("tanks")


def point(case):
    return fluence.fluence_rate(
        **case.lamp,
        sleeve_radius=case.sleeve_radius,
        radius=case.number("radius", CM),
        position=case.number("position", CM),
        sleeve=case.sleeve,
    )


def line(case):
    return fluence.line_average(
        **case.lamp,
        chamber_length=case.number("chamber_length", CM),
        sleeve_radius=case.sleeve_radius,
        radius=case.number("radius", CM),
    )


def geometry(case, mean_dose):
    return derating.flow_for_mean_dose(case.average(), case.volume(), mean_dose)


def one_rated_point(case):
    ratio = case.average() / case.average(absorption=case.absorption("rated_uvt"))
    rated, target = case.number("rated_dose", 10.0), case.number("target_dose", 10.0)
    return derating.flow_from_rated_point(case.number("rated_flow", LITRE_PER_MINUTE), rated, target, ratio, 1.0)


COMPUTED = {
    "fluence_rate": point,
    "line_average_fluence_rate": line,
    "mean_fluence_rate": Case.average,
    "mean_dose_plug": Case.mean_dose,
    "red_tanks": lambda case: dose.reduction_equivalent_dose(case.mean_dose(), *case.organism()),
    "residence_time": Case.time,
    "derated_flow_geometry": lambda case: geometry(case, case.number("target_dose", 10.0)),
    "derated_flow_geometry_red": lambda case: geometry(
        case, dose.mean_dose_needed(case.number("target_dose", 10.0), *case.organism())
    ),
    "derated_flow_one_rated_point": one_rated_point,
}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['id']}-{row['quantity']}")
def test_reference_value(row):
    value = COMPUTED[row["quantity"]](Case(row))
    assert value == pytest.approx(float(row["value"]) * SI[row["unit"]], rel=float(row["relative_tolerance"]), abs=0.0)


def test_every_row_states_its_source():
    assert len(ROWS) == 53
    assert {row["status"] for row in ROWS} == {"computed"}
    assert all(row["source"] and row["section"] and row["year"] for row in ROWS)


def test_mean_rates_of_the_chamber_equal_the_single_functions():
    for row in ROWS:
        if row["quantity"] != "mean_fluence_rate":
            continue
        case = Case(row)
        bore = case.number("bore_radius", CM)
        chamber = case.number("chamber_length", CM)
        rates = fluence.chamber_fluence_rates(
            **case.lamp, chamber_length=chamber, sleeve_radius=case.sleeve_radius, bore_radius=bore, sleeve=case.sleeve
        )
        radii = np.array([case.sleeve_radius, bore])
        beside = fluence.fluence_rate(**case.lamp, sleeve_radius=case.sleeve_radius, radius=radii, sleeve=case.sleeve)
        assert rates.average == pytest.approx(case.average(), rel=1e-14)
        assert [rates.at_sleeve, rates.at_wall] == pytest.approx(beside.tolist(), rel=1e-8)
