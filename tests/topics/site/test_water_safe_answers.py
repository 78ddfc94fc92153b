"""Water that looks safe and is not; section and plan agree."""

from typing import get_args

import numpy as np
import pytest
from phreeqpython import PhreeqPython

from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.run import run
from dosewright.tables.site import langelier_offset, water_limits
from dosewright.topics.site.contracts.water_check import WaterSourceName
from requests_water import GOOD
from sites import site

VERDICT = {"suitable": "suitable", "incomplete": "incomplete", "fix_first": "fix_first", "not_suitable": "not_suitable"}
DRINKING = ("nitrate_nitrogen", "lead", "copper", "arsenic", "fluoride", "uranium")
WATERS = {
    "good": {},
    "coliforms": {"total_coliform": "9 1/100mL"},
    "coliforms, E. coli unknown": {"total_coliform": "9 1/100mL", "e_coli": None},
    "coliforms unknown": {"total_coliform": None},
    "faecal": {"total_coliform": "9 1/100mL", "e_coli": "1 1/100mL"},
    "iron": {"iron": "2 mg/L"},
    "too much iron": {"iron": "15 mg/L"},
    "manganese": {"manganese": "0.2 mg/L"},
    "hard": {"hardness": "15 gpg"},
    "dark": {"uvt": "70 %"},
    "turbid": {"turbidity": "4"},
    "acid": {"ph": "6"},
    "pH too high": {"ph": "9.8"},
    "sulfide": {"hydrogen_sulfide": "0.2 mg/L"},
    "lake": {"water_source": "surface_water"},
    "roof": {"water_source": "rainwater"},
    "spring": {"water_source": "spring"},
    "source unknown": {"water_source": None},
    "salty": {"total_dissolved_solids": "900 mg/L"},
    "nitrate": {"nitrate_nitrogen": "14 mg/L"},
    "lead": {"lead": "0.02 mg/L"},
    "copper": {"copper": "2 mg/L"},
    "arsenic": {"arsenic": "0.05 mg/L"},
    "UVT unknown": {"uvt": None},
    "iron unknown": {"iron": None},
    "arsenic unknown": {"arsenic": None},
    "lead unknown": {"lead": None},
    "nitrate unknown": {"nitrate_nitrogen": None},
}


def water(**changes):
    return {name: value for name, value in {**GOOD, **changes}.items() if value is not None}


def asked(**changes):
    return run("site/water-check", water(**changes))


@pytest.mark.parametrize("changes", WATERS.values(), ids=WATERS.keys())
def test_the_plan_agrees_with_the_water_check(changes):
    test = water(**changes)
    equipment = [{**unit, "uvt": "90 %"} for unit in site("cottage")["equipment"]]
    whole = run("site/plan", {**site("cottage"), "water_test": test, "equipment": equipment})
    alone = run("site/water-check", test)
    assert whole.water_test.verdict == alone.verdict
    assert whole.verdict == VERDICT[alone.verdict]


@pytest.mark.parametrize("name", DRINKING)
def test_an_untested_health_parameter_is_never_assumed_absent(name):
    answer = asked(**{name: None})
    assert (answer.verdict, answer.uv_verdict) == ("incomplete", "suitable")
    whole = run("site/plan", {**site("cottage"), "water_test": water(**{name: None})})
    assert whole.verdict == "incomplete"
    assert f"{name}_not_tested" in {reason.code for reason in whole.reasons}


@pytest.mark.parametrize("name", ["uvt", "iron", "manganese", "hardness", "turbidity", "ph", "total_coliform"])
def test_an_untested_uv_parameter_makes_both_verdicts_incomplete(name):
    answer = asked(**{name: None})
    assert (answer.verdict, answer.uv_verdict) == ("incomplete", "incomplete")


def test_e_coli_is_needed_if_coliforms_are_present_or_not_tested():
    def is_needed(**changes):
        return next(one.needed for one in asked(e_coli=None, **changes).not_tested if one.name == "e_coli")

    assert is_needed() is False
    assert is_needed(total_coliform="3 1/100mL") is True
    assert is_needed(total_coliform=None) is True
    batch = run_batch("site/water-check", {**water(e_coli=None), "total_coliform": ["0 1/100mL", "3 1/100mL"]})
    assert batch["verdict"] == ["suitable", "incomplete"]


@pytest.mark.parametrize(
    ("name", "limit", "source"),
    [
        ("nitrate_nitrogen", 10.0, "40 CFR 141.62(b)"),
        ("arsenic", 0.010, "40 CFR 141.62(b)"),
        ("uranium", 0.030, "40 CFR 141.66(e)"),
        ("lead", 0.010, "40 CFR 141.2"),
        ("copper", 1.3, "40 CFR 141.2"),
        ("fluoride", 2.0, "40 CFR 143.3"),
        ("sulfate", 250.0, "40 CFR 143.3"),
        ("total_dissolved_solids", 500.0, "40 CFR 143.3"),
    ],
)
def test_a_limit_cites_the_regulation_itself(name, limit, source):
    assert water_limits()[name].upper == limit
    assert water_limits()[name].source.startswith(source)


def test_a_ph_above_the_secondary_standard_gives_a_warning():
    """40 CFR 143.3: 6.5 to 8.5."""
    assert "ph_above_secondary" in codes(asked(ph="8.6"))
    assert "ph_above_secondary" not in codes(asked(ph="8.5"))
    assert asked(ph="8.6").verdict == "suitable"


LIME = {"alkalinity": "200 mg/L", "total_dissolved_solids": "300 mg/L", "hardness": "6 gpg"}


@pytest.mark.parametrize(
    ("celsius", "offset"), [(0, 0.326), (5, 0.308), (10, 0.287), (15, 0.264), (25, 0.215), (40, 0.136), (60, 0.033)]
)
def test_scale_is_judged_with_the_correction_of_the_chart(celsius, offset):
    """Offsets computed from Plummer and Busenberg (1982), Geochimica et Cosmochimica Acta 46, 1011."""
    here = {**LIME, "calcium_hardness": "100 mg/L", "water_temperature": f"{celsius} degC"}
    neutral = asked(ph="7.5", **here).langelier_index
    for beside, scaling in ((-0.01, "balanced"), (0.01, "scale_forming")):
        answer = asked(ph=repr(7.5 + 0.5 - offset - neutral + beside), **here)
        assert answer.scaling == scaling
        assert answer.langelier_index == pytest.approx(0.5 - offset + beside, abs=1e-9)


WELLS = [(1.0, 1.09, -0.012, 0.012), (0.2, 0.3, 0.0, 0.03), (2.5, 2.9, -0.06, 0.0)]  # CaCO3 and CO2 in mmol/L


@pytest.mark.parametrize("celsius", [2, 5, 10, 15, 25, 40, 60])
@pytest.mark.parametrize(("calcium", "dioxide", "least", "most"), WELLS)
def test_the_correction_of_the_chart_agrees_with_phreeqc(calcium, dioxide, least, most, celsius):
    content = {"CaCO3": calcium, "CO2": dioxide, "NaCl": 25.4 / 58.44}  # the salt that the table's waters have
    solution = PhreeqPython().add_solution_simple(content, temperature=celsius)
    hardness = f"{100.09 * calcium} mg/L"  # 2 meq of alkalinity to each mmol, by charge balance
    answer = asked(
        calcium_hardness=hardness,
        alkalinity=hardness,
        ph=solution.pH,
        total_dissolved_solids=f"{1.6 * 100.09 * calcium + 25.4} mg/L",
        water_temperature=f"{celsius} degC",
    )
    offset = np.interp(celsius, *langelier_offset())
    assert least <= solution.si("Calcite") - answer.langelier_index - offset <= most


@pytest.mark.parametrize("source", get_args(WaterSourceName))
@pytest.mark.parametrize("found", ["1 1/100mL", "present", ">200.5", "TNTC"])
def test_faecal_bacteria_are_never_ok_in_the_check_or_the_plan(source, found):
    results = {"total_coliform": "TNTC", "e_coli": found, "water_source": source}
    answer = asked(**results)
    assert answer.verdict == "fix_first"
    assert answer.uv_verdict != "suitable"
    assert "faecal_pollution" in codes(answer)
    whole = run("site/plan", {**site("cottage"), "water_test": water(**results)})
    assert whole.verdict in {"fix_first", "not_suitable"}


def test_nitrate_is_not_for_infants_until_it_is_treated_at_the_tap():
    answer = asked(nitrate_nitrogen="45 mg/L as NO3", e_coli="absent")
    assert answer.verdict == "fix_first"
    (message,) = (one.message for one in answer.cautions if one.code == "nitrate_infants")
    assert "infant" in message.lower()
    assert "reverse osmosis" in " ".join(one.message for one in answer.warnings).lower()
    assert "nitrate_above_limit" not in codes(asked(nitrate_nitrogen="44 mg/L as NO3"))


def test_what_was_not_tested_is_never_complete():
    assert asked().complete is True
    for name in (*DRINKING, "uvt", "iron", "sulfate", "e_coli"):
        assert asked(**{name: None}).complete is False, name
