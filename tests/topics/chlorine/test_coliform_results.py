"""Coliform results after a chlorination, as laboratories print them."""

import pytest

from asgi import send
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run

PATH = "chlorine/retest"


def asked(coliform, **changes):
    sample = {"taken_after": "8 d", "coliform": coliform, "total_chlorine": "0 mg/L", **changes}
    return run(PATH, {"samples": [sample]})


@pytest.mark.parametrize("printed", ["absent", "<1", "<1 MPN/100 mL", "0", 0, "NEG", "negative", "n.d.", "0 CFU/100mL"])
def test_no_coliforms_as_printed(printed):
    assert asked(printed).samples[0].counted == "clear"


@pytest.mark.parametrize("printed", ["present", "3 CFU/100 mL", ">200.5", "POS", "positive", "TNTC", 3, "3", "≥2420"])
def test_some_coliforms_as_printed(printed):
    assert asked(printed).samples[0].counted == "not_clear"


@pytest.mark.parametrize(
    ("printed", "code", "hint"),
    [
        ("<10", "detection_limit_too_high", "detection limit of 1 in 100 mL"),
        ("3 MPN", "unit_missing", "3 MPN/100 mL"),
        ("not tested", "required", "coliform is required"),
        ("lots", "unknown_choice", "not one of the allowed names"),
        ("0,5", "unknown_choice", "not one of the allowed names"),
        ("0 bananas", "unknown_choice", "not one of the allowed names"),
        ("0 /mL", "unknown_choice", "not one of the allowed names"),  # a smaller sample does not show none in 100 mL
        (-1, "wrong_type", "Expected a string"),
        (10**400, "wrong_type", "Expected a string"),
    ],
)
def test_what_decides_nothing_is_refused(printed, code, hint):
    with pytest.raises(RequestRefused) as refused:
        asked(printed)
    (fault,) = refused.value.faults
    assert (fault.pointer, fault.code) == ("/samples/0/coliform", code)
    assert hint in fault.message


def test_e_coli_not_tested_is_not_absent():
    answer = asked("present", e_coli="not tested")
    assert "e_coli_not_tested" in {warning.code for warning in answer.warnings}
    assert answer.to_dict() == asked("present").to_dict()
    undecided = asked("present", e_coli="<10")
    assert "e_coli_not_tested" in {warning.code for warning in undecided.warnings}
    assert "detection limit is too high" in undecided.defaults["samples.0.e_coli"]


@pytest.mark.parametrize("e_coli", ["<1", "<10", "NEG", "absent"])
def test_the_question_repeats_the_words(e_coli):
    answer = asked("<1 MPN/100 mL", e_coli=e_coli)
    again = send("GET", answer.question)
    assert again.status == 200
    assert again.json() == {**answer.to_dict(), "question": answer.question}
    assert "%3C1%20MPN/100%20mL" in answer.question


def test_a_column_of_raw_samples_takes_the_words_too():
    request = {
        "samples": [{"taken_after": ["8 d", "8 d"], "coliform": "absent", "total_chlorine": "0 mg/L"}],
        "raw_coliform": ["<1", "3 CFU/100 mL"],
    }
    batch = run_batch(PATH, request)
    assert batch.errors == []
    assert [warning.rows for warning in batch.warnings if warning.code == "raw_water_not_clear"] == [[1]]
