"""Published and computed hydraulic values, each with its source in tests/reference/hydraulics.csv."""

import csv
import json
import math
from pathlib import Path

import pytest

from dosewright.core import constants
from dosewright.core.hydraulics import friction, losses, pipe
from dosewright.core.water_and_air import water

REFERENCE = Path(__file__).parents[1] / "reference" / "hydraulics.csv"
ROWS = list(csv.DictReader(REFERENCE.read_text(encoding="utf-8").splitlines()))
MODULES = {"friction": friction, "losses": losses, "pipe": pipe, "water": water}
SI_OF_UNIT = {
    "1": 1.0,
    "Pa": 1.0,
    "m": 1.0,
    "bar": 1e5,
    "ft": 0.3048,
    "gal/min": 231 * 0.0254**3 / 60,
    "m3/h": 1 / 3600,
    "uPa.s": 1e-6,
    "mol/dm3": 18.015268,
}


def system_head(flow, density, kinematic_viscosity, pipes, rise=0.0):
    head = rise
    for part in pipes:
        speed = pipe.velocity(flow, part["bore"])
        coefficient = sum(part["coefficients"])
        if "hazen_williams_c" in part:
            head += losses.hazen_williams_head_loss(flow, part["bore"], part["length"], part["hazen_williams_c"])
        else:
            reynolds = pipe.reynolds_number(speed, part["bore"], kinematic_viscosity)
            factor = part.get("friction_factor") or friction.friction_factor(reynolds, part["roughness"] / part["bore"])
            coefficient += losses.friction_coefficient(factor, part["length"], part["bore"])
        head += losses.loss_pressure_drop(coefficient, density, speed) / (density * constants.STANDARD_GRAVITY)
    return head


def system_pressure(flow, density, kinematic_viscosity, pipes, rise):
    without_rise = system_head(flow, density, kinematic_viscosity, pipes)
    return without_rise * density * constants.STANDARD_GRAVITY + losses.elevation_pressure(rise, density)


def system_flow(head, density, kinematic_viscosity, pipes):
    low, high = 1e-5, 1.0
    for _ in range(60):
        middle = math.sqrt(low * high)
        if system_head(middle, density, kinematic_viscosity, pipes) > head:
            high = middle
        else:
            low = middle
    return low


def kv_of_coefficient(loss_coefficient, bore):
    """Flow at which the loss coefficient has a pressure drop of 1 bar in water of 1000 kg/m3."""
    drop_at_unit_flow = losses.loss_pressure_drop(loss_coefficient, 1000.0, pipe.velocity(1.0, bore))
    flow = math.sqrt(1e5 / drop_at_unit_flow)
    assert losses.device_pressure_drop(flow / 2, flow, 1e5) == pytest.approx(
        losses.loss_pressure_drop(loss_coefficient, 1000.0, pipe.velocity(flow / 2, bore)), rel=1e-14
    )
    return flow


SYSTEMS = {
    "system_head": system_head,
    "system_pressure": system_pressure,
    "system_flow": system_flow,
    "kv_of_coefficient": kv_of_coefficient,
}


def computed(row):
    if row["function"] in SYSTEMS:
        function = SYSTEMS[row["function"]]
    else:
        module, name = row["function"].split(".")
        function = getattr(MODULES[module], name)
    return function(**json.loads(row["inputs"])) / SI_OF_UNIT[row["unit"]]


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_reference(row):
    assert computed(row) == pytest.approx(float(row["published"]), abs=float(row["tolerance"]), rel=0)


def test_every_row_names_its_source():
    assert len(ROWS) > 50
    for row in ROWS:
        assert row["source"], row["id"]
        assert row["tolerance_basis"], row["id"]
        assert row["status"] in {"found", "memory", "computed"}, row["id"]


EPANET_DARCY_ROWS = [row for row in ROWS if row["id"].startswith("epanet-") and "-dw-" in row["id"]]


@pytest.mark.parametrize("row", EPANET_DARCY_ROWS, ids=[row["id"] for row in EPANET_DARCY_ROWS])
def test_epanet_differs_by_its_own_friction_formula(row):
    """With the Swamee-Jain formula in place of Colebrook-White the rows agree ten times better."""
    inputs = json.loads(row["inputs"])
    for part in inputs["pipes"]:
        speed = pipe.velocity(inputs["flow"], part["bore"])
        reynolds = pipe.reynolds_number(speed, part["bore"], inputs["kinematic_viscosity"])
        rough = part["roughness"] / (3.7 * part["bore"])
        part["friction_factor"] = 0.25 / math.log10(rough + 5.74 / reynolds**0.9) ** 2
    assert system_head(**inputs) == pytest.approx(float(row["published"]), rel=0.0012)
