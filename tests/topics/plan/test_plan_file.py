"""A plan from a file: faults by line, the template, the schema."""

from __future__ import annotations

import json
import re
import tomllib
from typing import TYPE_CHECKING, Any

import hypothesis.strategies as st
import jsonschema_rs
import pytest
from hypothesis import given, settings

from dosewright.cli import main, source_lines
from dosewright.cli.template import schema, template
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import run
from sites import SITES, site, source

if TYPE_CHECKING:
    from pathlib import Path

PLAN = find("site/plan")


def test_faults_of_a_file_are_reported_by_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (
        source("cottage")
        .replace('iron = "0.1 mg/L"', 'iron = "0.1 psi"')
        .replace('length = "70 ft"', 'length = "70 parsec"')
    )
    text = text.replace('bed_volume = "3 L"', 'bed_volumes = "3 L"')
    wrong = {
        number
        for number, line in enumerate(text.splitlines(), 1)
        if "0.1 psi" in line or "parsec" in line or "bed_volumes" in line
    }
    target = tmp_path / "site.toml"
    target.write_text(text, encoding="utf-8")
    assert main(["plan", str(target)]) == 2
    told = re.sub(r"\n +", " ", capsys.readouterr().err)
    assert {int(number) for number in re.findall(r"site\.toml:(\d+):", told)} == wrong
    assert len(wrong) == 3


def test_a_file_that_is_not_toml_is_reported_by_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "site.toml"
    target.write_text("a = 1\nb = = 2\n", encoding="utf-8")
    assert main(["plan", str(target)]) == 2
    assert "site.toml:2: Not valid TOML:" in re.sub(r"\n +", " ", capsys.readouterr().err)
    missing = str(tmp_path / "none.toml")
    assert main(["plan", missing]) == 2
    told = re.sub(r"\n *", " ", capsys.readouterr().err)
    assert told.strip() == f"dosewright plan: cannot read {missing}: no such file"


HARDNESS = 'hardness = "5 gpg"'
# What a new user gets wrong, the text that stands on the line at fault then, and a word of what mends it.
MISTAKES = {
    "wrong unit": (HARDNESS, 'hardness = "5 gpm"', "gpm", "unit of flow"),
    "no unit": ('peak_flow = "8 gal/min"', "peak_flow = 8", "peak_flow", "has no unit"),
    "misspelt field": (HARDNESS, 'hardnes = "5 gpg"', "hardnes =", "'hardness'"),
    "misspelt section": ("[condensation]", "[condensaton]", "[condensaton]", "'condensation'"),
    "misspelt kind": ('"elevation"', '"elevaton"', "elevaton", "'elevation'"),
    "misspelt name": ('"ball_valve_open"', '"ball_valve"', '"ball_valve"', "ball_valve_open"),
    "field left out": ('flush_flow = "6 gal/min"\n', "", "[commissioning]", "flush_flow is required"),
    "wrong type": ("sensitivity = true", 'sensitivity = "perhaps"', "sensitivity", "true or false"),
    "not a list": ("[[equipment]]", "[other]", "[other]", "unknown field"),
    "share for percent": ('uvt = "87 %"', 'uvt = "0.87 %"', '"0.87 %"', "write 75 %"),
    "a day in words": ("2026-05-04", '"soon"', '"soon"', "year-month-day"),
    "no such day": ("2026-05-04", "2026-13-04", "2026-13-04", "year-month-day"),
    "given twice": (HARDNESS, f'{HARDNESS}\nhardness = "6 gpg"', '"6 gpg"', "given twice"),
    "section given twice": ("[upkeep]", "[commissioning]\n[upkeep]", "[commissioning]\n[upkeep]", "under one head"),
    "quote left out": (HARDNESS, 'hardness = "5 gpg', 'hardness = "5 gpg', "quote"),
    "bracket left out": ("[condensation]", "[condensation", "[condensation", "Expected ']'"),
    "colon for equals": (HARDNESS, "hardness: 5 gpg", "hardness: 5", "equals sign"),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_reported_on_its_line_with_the_fix(
    mistake: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    right, wrong, at_fault, told = MISTAKES[mistake]
    assert right in source("cottage")
    text = source("cottage").replace(right, wrong, 1)
    target = tmp_path / "site.toml"
    target.write_text(text, encoding="utf-8")
    assert main(["plan", str(target)]) == 2
    said = re.sub(r"\n +", " ", capsys.readouterr().err)
    line = text[: text.rindex(at_fault)].count("\n") + 1
    assert told in said
    assert f"site.toml:{line}: " in said
    assert "Traceback" not in said


@pytest.mark.parametrize(
    ("right", "wrong", "behind", "told"),
    [
        ('"5 gpg"', '"5 gpm"', 0, "unit of flow"),
        ('"5 gpg",', '"5 gpg"', 1, "comma is missing"),  # the reader misses it at the next name
        ('"5 gpg",', '"5 gpg",\n"hardness": "6 gpg",', 1, "given twice"),
        ('"energy_price": "0.18"', '"energy_price": "0.18",', 1, "no comma"),
    ],
)
def test_mistakes_in_json_are_reported_by_line(
    right: str, wrong: str, behind: int, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = json.dumps(site("cottage"), indent=1)
    assert right in text
    line = text[: text.index(right)].count("\n") + 1 + behind
    target = tmp_path / "site.JSON"
    target.write_text(text.replace(right, wrong, 1), encoding="utf-8")
    assert main(["plan", str(target)]) == 2
    said = re.sub(r"\n +", " ", capsys.readouterr().err)
    assert told in said
    assert f"site.JSON:{line}: " in said


def test_a_file_in_another_language_or_encoding_is_reported(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "site.json"
    target.write_text(source("cottage"), encoding="utf-8")
    assert main(["plan", str(target)]) == 2
    assert "any other as TOML" in re.sub(r"\n +", " ", capsys.readouterr().err)
    target.write_bytes(source("cottage").encode("utf-16"))
    assert main(["plan", str(target)]) == 2
    assert "UTF-8" in capsys.readouterr().err


names_ = st.text("abc-_ .\"'#[]=é", min_size=1, max_size=4)
values_ = st.recursive(
    st.integers() | st.booleans() | st.text("ab #\"'\\[]{},=:\n", max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(names_, inner, max_size=3),
    max_leaves=12,
)


def walked(value: Any, place: source_lines.Place = ()) -> list[source_lines.Place]:
    entries = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [found for key, inner in entries for found in ((*place, key), *walked(inner, (*place, key)))]


@settings(max_examples=60)
@given(st.dictionaries(names_, values_, max_size=4))
def test_every_place_of_a_json_file_has_its_line(value: dict[str, Any]) -> None:
    text = json.dumps(value, indent=1, ensure_ascii=False)
    found = source_lines.places(text, toml=False)
    assert set(found) == set(walked(value))
    for place, line in found.items():
        if isinstance(place[-1], str):
            assert json.dumps(place[-1], ensure_ascii=False) in text.split("\n")[line - 1]


@pytest.mark.parametrize("name", SITES)
def test_every_place_of_the_sites_files_has_its_line(name: str) -> None:
    text = source(name)
    found = source_lines.places(text, toml=True)
    assert set(found) == set(walked(tomllib.loads(text)))
    for place, line in found.items():
        if isinstance(place[-1], str):
            assert place[-1] in text.splitlines()[line - 1]


def test_toml_tables_of_every_form_have_their_lines() -> None:
    text = '''# first
a.b = 1
"c d" = """
[x]
y = 2
"""
[t.u]
e = [ # comment ]
  1,
  { f = 'g]' },
]
[[l]]
h = 1
[[l]]
h = 2
[[l.m]]
n = 2026-05-04 10:00:00
[l.m.o]
p = ""
'''
    found = source_lines.places(text, toml=True)
    assert set(found) == set(walked(tomllib.loads(text)))
    wanted = {("a", "b"): 2, ("c d",): 3, ("t", "u", "e"): 8, ("t", "u", "e", 1, "f"): 10, ("l", 0, "h"): 13}
    wanted |= {("l", 1, "h"): 15, ("l", 1, "m", 0, "n"): 17, ("l", 1, "m", 0, "o", "p"): 19}
    assert {place: found[place] for place in wanted} == wanted


def test_the_terminal_uses_the_words_of_the_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", "--scenario", "lake_cottage", "--json", str(tmp_path / "plan.json")]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Verdict: Fix before installing. ")
    assert "Fix first: Surface water carries parasites" in told
    assert "E. coli" in told
    assert "Not given: chlorination. Not assessed without it: how much hypochlorite" in " ".join(told.split())
    assert max(map(len, told.splitlines())) <= 100
    assert not re.search(r"fix_first|fix_first|1/100mL", told)


def test_the_template_runs_unchanged_and_agrees_with_the_schema(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "site.toml"
    assert main(["plan", "--template", str(target)]) == 0
    assert target.read_text(encoding="utf-8") == template(PLAN)
    page = tmp_path / "plan.html"
    assert main(["plan", str(target), "--html", str(page)]) == 0
    assert b"<h1>" in page.read_bytes()
    assert "Verdict:" in capsys.readouterr().out
    checker = jsonschema_rs.Draft202012Validator(json.loads(schema(PLAN)))
    for text in (template(PLAN), *map(source, SITES)):
        request = tomllib.loads(text)
        request["upkeep"] = {**request.get("upkeep", {"daily_use": "1 L/d"}), "installed": "2026-05-04"}
        assert list(checker.iter_errors(request)) == []
    request["water_test"]["iorn"] = "1 mg/L"
    assert [list(error.instance_path) for error in checker.iter_errors(request)] == [["water_test"]]


def test_every_commented_field_of_the_template_is_valid() -> None:
    sections = tomllib.loads(re.sub(r"(?m)^# ([a-z_]+) = ", r"\1 = ", template(PLAN)))
    with pytest.raises(RequestRefused) as refused:
        run("site/plan", {**sections, "clearence": {}})
    assert [fault.pointer for fault in refused.value.faults if fault.code == "unknown_field"] == ["/clearence"]
