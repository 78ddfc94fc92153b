"""Each calculation has its method sheet, check value, test, row in the README and line in the changelog."""

import re
from pathlib import Path

import pytest

from contract_digest import unpack
from dosewright.engine.registry import calculations, find
from dosewright.tables import check_names, checks

ROOT = Path(__file__).parents[2]
API = "api/dosewright"
HERE = "tests/project/test_nothing_is_forgotten.py"
NOTHING_PUBLISHED = {
    "chlorine/retest": "decides by limits and counts, and gives no number of its own",
    "pipe/largest-flow": "the inverse of pipe/pressure-drop; a test closes the circle",
    "pipe/volume": "volumes of cylinders",
    "site/clearance": "sums of lengths",
    "site/commissioning": "made of other calculations, which have values",
    "site/plan": "made of other calculations, which have values",
    "site/upkeep": "made of other calculations, which have values",
    "uv/derating-curve": "uv/derated-flow along a series",
    "uv/field-models": "the models of uv/dose side by side",
    "uv/fluence-map": "the field of uv/dose at many places; tests compare it with the golden values",
    "uv/idle-heating": "an energy balance",
    "uv/limits": "the inverse of uv/derated-flow; a test closes the circle",
    "uv/transmittance": "definitions",
    "uv/uncertainty": "draws of uv/dose",
}
"""Calculations without a check value, each with its reason."""
VALUED = {check["target"] for name in check_names() for check in checks(name)}
TESTS = "\n".join(file.read_text(encoding="utf-8") for file in (ROOT / "tests" / "topics").rglob("*.py"))


def read(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def forgotten(path: str) -> list[str]:
    """Return what a calculation lacks: what to write, and where."""
    entry = find(path)
    folder = "/".join(entry.body.__module__.split(".")[1:3])
    sheet = f"{API}/{folder}/methods/{entry.name}.toml"
    topic, name = folder.rpartition("/")[2], entry.name.replace("-", "_")
    told: list[str] = []
    if not (ROOT / sheet).is_file():
        told.append(f"{path} has no method sheet: write its equations and symbols in {sheet}")
    if path not in VALUED and path not in NOTHING_PUBLISHED:
        told.append(
            f"{path} has no check value: add a row with the target {path} and its source to "
            f"{API}/tables/checks/{entry.topic}.csv; if nothing is published, add the reason to NOTHING_PUBLISHED "
            f"in {HERE}"
        )
    if path not in TESTS:
        told.append(f"{path} has no test: write its properties in tests/topics/{topic}/test_{topic}_{name}.py")
    if not re.search(rf"^\| `{path}` \| \w", read("README.md"), re.MULTILINE):
        told.append(
            f"{path} has no row in the README: add | `{path}` | what it answers | to the table below "
            "'## The calculations' in README.md"
        )
    if path not in released() and f"`{path}`" not in newest_changes():
        told.append(
            f"{path} is new and has no line in the changelog: add a line that names `{path}` below '### Added' of "
            f"the first section of CHANGELOG.md ({newest_changes().splitlines()[0]})"
        )
    return told


def released() -> set[str]:
    """Return the calculations of the released contract."""
    operations = unpack(read("openapi/released.json"))["operations"]
    return {operation.partition(" /v1/")[2] for operation in operations}


def newest_changes() -> str:
    """Return the first section of the changelog, from its heading on."""
    return "## " + read("CHANGELOG.md").split("\n## ")[1]


@pytest.mark.parametrize("path", calculations())
def test_nothing_is_forgotten(path: str) -> None:
    told = forgotten(path)
    if told:
        pytest.fail("\n".join(told), pytrace=False)


def test_the_list_of_those_without_a_value_is_current() -> None:
    assert sorted(NOTHING_PUBLISHED.keys() & VALUED) == []
    assert sorted(NOTHING_PUBLISHED.keys() - calculations().keys()) == []
