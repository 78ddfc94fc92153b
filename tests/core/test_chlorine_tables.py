"""The chlorine tables compared with themselves, with chemistry, and with the core."""

import csv
import re
from pathlib import Path

import numpy as np
import pytest

from dosewright.core import measures
from dosewright.core.chlorine import chlorine, dechlorination
from dosewright.tables import table

REFERENCE = Path(__file__).parents[1] / "reference"
# Abridged standard atomic weights, IUPAC 2021 (Prohaska et al., 2022), from memory.
SEVERITIES = {"H": 1.008, "C": 12.011, "O": 15.999, "Na": 22.990, "S": 32.06, "Cl": 35.45, "Ca": 40.078}
REACTIONS = [row for row in table("neutralisers").rows if row["basis"] == "stoichiometric"]
HANDBOOK = [row for row in table("neutralisers").rows if row["basis"] == "handbook"]


def atoms(formula):
    counts = {}
    for element, number in re.findall(r"([A-Z][a-z]?)(\d*)", formula):
        counts[element] = counts.get(element, 0) + int(number or 1)
    return counts


def side(text):
    counts = {}
    for term in text.split(" + "):
        number, formula = re.fullmatch(r"(?:(\d+) )?(\S+)", term.strip()).groups()
        for element, count in atoms(formula).items():
            counts[element] = counts.get(element, 0) + count * int(number or 1)
    return counts


@pytest.mark.parametrize("row", REACTIONS, ids=lambda row: f"{row['agent']}-{row['end_product']}")
def test_reaction_balances_and_gives_the_numbers_of_its_row(row):
    left, right = row["reaction"].split(" -> ")
    assert side(left) == side(right)
    agent_number, agent = re.match(r"(?:(\d+) )?(\S+)", left).groups()
    chlorine_number = re.search(r"(?:(\d+) )?Cl2", left).group(1)
    assert float(row["chlorine_reduced"]) == int(chlorine_number or 1) / int(agent_number or 1)
    mass = sum(SEVERITIES[element] * count for element, count in atoms(agent).items())
    if row["agent"].endswith("pentahydrate"):
        mass += 5 * (2 * SEVERITIES["H"] + SEVERITIES["O"])
    assert float(row["molar_mass"]) == pytest.approx(mass, abs=5e-4)


def test_molar_masses_of_the_core():
    assert pytest.approx(2 * SEVERITIES["Cl"] / 1000, abs=1e-12) == chlorine.CHLORINE
    assert (
        pytest.approx((SEVERITIES["Na"] + SEVERITIES["O"] + SEVERITIES["Cl"]) / 1000, abs=1e-12)
        == chlorine.SODIUM_HYPOCHLORITE
    )


@pytest.mark.parametrize("agent", sorted({row["agent"] for row in REACTIONS}))
def test_every_agent_but_peroxide_has_a_handbook_ratio_that_stoichiometry_allows(agent):
    ratios = [
        dechlorination.stoichiometric_ratio(float(row["molar_mass"]) / 1000, float(row["chlorine_reduced"]))
        for row in REACTIONS
        if row["agent"] == agent
    ]
    found = [float(row["ratio"]) for row in HANDBOOK if row["agent"] == agent and row["status"] == "found"]
    assert len(found) == (agent != "hydrogen_peroxide")
    assert not found or min(ratios) <= found[0] <= 1.11 * max(ratios)


def test_sulfite_ratios_from_memory_are_below_stoichiometry_as_the_notes_say():
    for row in HANDBOOK:
        if "below the stoichiometric" in row["note"]:
            reaction = next(other for other in REACTIONS if other["agent"] == row["agent"])
            needed = dechlorination.stoichiometric_ratio(
                float(reaction["molar_mass"]) / 1000, float(reaction["chlorine_reduced"])
            )
            assert float(row["ratio"]) < needed
            assert row["status"] == "memory"


def test_density_line_is_within_one_percent_of_the_other_published_points():
    rows = table("hypochlorite_density").rows
    (water, solution) = (row for row in rows if row["use"] == "basis")
    slope = (float(solution["density"]) - float(water["density"])) / float(solution["available_chlorine"])
    others = [row for row in rows if row["use"] == "comparison"]
    assert len(others) == 5
    for row in others:
        line = float(water["density"]) + slope * float(row["available_chlorine"])
        assert line == pytest.approx(float(row["density"]), rel=0.01), row["note"]


def test_rules_are_steps_that_rise():
    rules = {}
    for row in table("chlorination_rules").rows:
        rules.setdefault(row["name"], []).append(row)
    for name, rows in rules.items():
        starts = [float(row["minimum_concentration"]) for row in rows]
        assert starts == sorted(set(starts)), name
        for row in rows:
            assert row["status"] in {"found", "memory"}
            assert bool(row["hold_time"]) == bool(row["hold_status"]), name
            if row["maximum_concentration"]:
                assert float(row["maximum_concentration"]) > float(row["minimum_concentration"])
            if row["end_concentration"]:
                assert float(row["end_concentration"]) <= float(row["minimum_concentration"])


def test_michigan_rows_multiply_to_one_thousand():
    rows = [row for row in table("chlorination_rules").rows if row["name"] == "michigan_325_1661"]
    products = {float(row["minimum_concentration"]) * float(row["hold_time"]) for row in rows}
    assert len(rows) == 4
    assert products == {1000.0}


def units_of(system, dimension):
    sizes = {row["symbol"]: eval_factor(row["factor"]) for row in table("units").rows if row["dimension"] == dimension}
    return [
        (sizes[row["unit"]], float(row["least"]), float(row["fraction"]))
        for row in table("measures").rows
        if (row["system"], row["dimension"]) == (system, dimension)
    ]


def eval_factor(text):
    product = 1.0
    for sign, part in re.findall(r"(^|[*/])([\d.]+)", text):
        product = product / float(part) if sign == "/" else product * float(part)
    return product


SYSTEMS = sorted({(row["system"], row["dimension"]) for row in table("measure_steps").rows})


@pytest.mark.parametrize(("system", "dimension"), SYSTEMS)
def test_steps_never_turn_back_and_every_mark_can_be_counted_out(system, dimension):
    rows = [r for r in table("measure_steps").rows if (r["system"], r["dimension"]) == (system, dimension)]
    (unit,) = {row["unit"] for row in rows}
    least = np.array([float(row["least"]) for row in rows])
    step = np.array([float(row["step"]) for row in rows])
    for start, below, above in zip(least[1:], step, step[1:], strict=False):
        assert start % below == 0.0
        assert start % above == 0.0
    sizes = {row["symbol"]: eval_factor(row["factor"]) for row in table("units").rows if row["dimension"] == dimension}
    marks = np.unique(measures.round_up_to_step(np.linspace(0.01, 1.3 * least[-1], 5000), least, step))
    for mark in marks:
        rest = mark * sizes[unit]
        for size, smallest, fraction in units_of(system, dimension):
            count = np.floor(rest / size / fraction + 1e-9) * fraction
            if count >= smallest:
                rest -= count * size
        assert abs(rest) < 1e-9 * sizes[unit] * max(1.0, mark), (system, mark)


@pytest.mark.parametrize(("system", "dimension"), SYSTEMS)
def test_rounding_adds_at_most_ten_percent_from_the_tenth_mark_on(system, dimension):
    rows = [r for r in table("measure_steps").rows if (r["system"], r["dimension"]) == (system, dimension)]
    least = np.array([float(row["least"]) for row in rows])
    step = np.array([float(row["step"]) for row in rows])
    amounts = np.geomspace(10.0 * step[0], 3.0 * least[-1], 20_000)
    assert np.max(measures.round_up_to_step(amounts, least, step) / amounts) <= 1.10


def test_kitchen_units_have_their_published_ratios():
    sizes = {row["symbol"]: eval_factor(row["factor"]) for row in table("units").rows if row["dimension"] == "volume"}
    for larger, number, smaller in (
        ("tbsp", 3, "tsp"),
        ("cup", 16, "tbsp"),
        ("pt", 2, "cup"),
        ("qt", 2, "pt"),
        ("gal", 4, "qt"),
        ("fl_oz", 2, "tbsp"),
    ):
        assert sizes[larger] == pytest.approx(number * sizes[smaller], rel=1e-12)


def test_rules_are_those_of_the_collected_figures():
    copied = list(csv.DictReader((REFERENCE / "chlorination_rules.csv").read_text("utf-8").splitlines()))
    shipped = table("chlorination_rules").rows
    for row in copied:
        least = row["minimum_concentration"]
        named = [one for one in shipped if one["name"] == row["rule"]]
        (found,) = (one for one in named if least in {"", one["minimum_concentration"]})
        for column in ("minimum_concentration", "maximum_concentration", "hold_time", "end_concentration"):
            if row[column]:
                assert float(found[column]) == float(row[column]), (row["rule"], column)
        recalled = row["status"] == "memory"
        assert ("memory" in (found["status"], found["hold_status"])) or not recalled, row["rule"]
    names = {row["rule"] for row in copied}
    assert all(one["source"] for one in shipped if one["name"] not in names)
