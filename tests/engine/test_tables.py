"""Tables and check values: each says where it is from and how it was checked, and holds what contracts name."""

from __future__ import annotations

import csv
import json
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from contract_walk import every_field, numbers
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.registry import calculations
from dosewright.quantities import KINDS
from dosewright.tables import check_names, checks, table

TABLES = Path(__file__).parents[2] / "api" / "dosewright" / "tables"
REFERENCE = Path(__file__).parents[1] / "reference"
NAMES = sorted(path.stem for path in (TABLES / "data").glob("*.csv"))
CHECKS = sorted((TABLES / "checks").glob("*.csv"))
STATUSES = {"found", "memory", "computed"}
CHECK_HEADER = ["id", "target", "inputs", "field", "published", "unit", "tolerance", "tolerance_basis"]
CHECK_HEADER += ["source", "section", "year", "status", "note"]
YEAR = re.compile(r"1[89][0-9]{2}|20[0-9]{2}")
TABLE = pytest.mark.parametrize("name", NAMES)
CHECK_ROWS = [
    pytest.param(path.stem, row, id=f"{path.stem}-{row['id']}") for path in CHECKS for row in checks(path.stem)
]


def test_every_table_has_its_sidecar_and_no_sidecar_is_left_over() -> None:
    assert NAMES
    assert sorted(path.stem for path in (TABLES / "data").glob("*.toml")) == NAMES
    assert {path.suffix for path in (TABLES / "data").iterdir() if path.is_file()} <= {".csv", ".toml"}
    assert list(check_names()) == [path.stem for path in CHECKS]


@TABLE
def test_a_sidecar_says_what_the_table_is(name: str) -> None:
    about = tomllib.loads((TABLES / "data" / f"{name}.toml").read_text("utf-8"))
    assert {"title", "source", "section", "year", "checked"} <= about.keys()
    for member in ("title", "source", "checked"):
        assert about[member].strip(), member
    own = "row" in about["source"] or "no source" in about["source"]
    assert about["section"].strip() or own, "a section, unless the rows name their own or there is none"
    assert str(about["year"]).strip()
    assert set(about.get("units", {})) <= set(table(name).rows[0]), "units of columns that are not there"


def grid(path: Path) -> list[list[str]]:
    text = path.read_bytes().decode("utf-8")
    assert not text.startswith("\ufeff")
    assert text.endswith("\n")
    assert "\r" not in text
    return list(csv.reader(text.splitlines()))


@pytest.mark.parametrize(
    "path",
    [*(TABLES / "data").glob("*.csv"), *CHECKS, *REFERENCE.glob("*.csv")],
    ids=lambda path: f"{path.parent.name}-{path.stem}",
)
def test_a_table_is_rectangular_and_clean(path: Path) -> None:
    header, *rows = grid(path)
    assert rows
    assert len(set(header)) == len(header)
    assert all(re.fullmatch("[a-z][a-z0-9_]*", column) for column in header)
    for number, row in enumerate(rows, 2):
        assert len(row) == len(header), f"line {number}"
        assert all(cell == cell.strip() for cell in row), f"line {number}"
    assert len({tuple(row) for row in rows}) == len(rows), "a row stands twice"


def assert_sourced(row: Any, where: str) -> None:
    assert row["source"].strip(), where
    assert row["status"] in STATUSES, where
    if "year" in row:
        assert not row["year"] or YEAR.search(row["year"]), f"{where}: {row['year']}"


@TABLE
def test_rows_that_carry_a_source_carry_it_everywhere(name: str) -> None:
    whole = str(table(name).about["source"])
    for number, row in enumerate(table(name).rows, 2):
        if "source" in row:
            assert row["source"].strip(), f"line {number}"
        if "status" in row:
            assert_sourced({"source": whole, **row}, f"line {number}")


@pytest.mark.parametrize("path", sorted(REFERENCE.glob("*.csv")), ids=lambda path: path.stem)
def test_reference_rows_are_sourced(path: Path) -> None:
    header, *rows = grid(path)
    for number, cells in enumerate(rows, 2):
        assert_sourced(dict(zip(header, cells, strict=True)), f"line {number}")


@pytest.mark.parametrize("path", CHECKS, ids=lambda path: path.stem)
def test_a_check_table_has_the_columns_that_verify_reads(path: Path) -> None:
    header, *rows = grid(path)
    assert header == CHECK_HEADER
    ids = [row[0] for row in rows]
    assert len(set(ids)) == len(ids)
    assert all(re.fullmatch("[A-Za-z0-9][A-Za-z0-9_./-]*", one) for one in ids)


@pytest.mark.parametrize(("name", "row"), CHECK_ROWS)
def test_a_check_value_says_where_it_is_from_and_what_its_digits_allow(name: str, row: Any) -> None:
    assert_sourced(row, row["id"])
    assert row["tolerance_basis"].strip()
    entry = calculations()[row["target"]]
    assert entry.topic == name or name in row["target"]
    assert isinstance(json.loads(row["inputs"]), dict)
    field = ".".join(part for part in row["field"].split(".") if not part.isdigit())
    kind = dict(numbers(entry.answer)).get(field)
    if kind is None:
        assert row["unit"] == "", "a text or flag has no unit"
        return
    assert kind.lookup[row["unit"]]
    tolerance = float(row["tolerance"])
    published = float(row["published"])
    assert tolerance > 0.0 or (tolerance == 0.0 and published == int(published)), "only a count is exact"
    # A tolerance as large as the value would let anything pass.
    assert tolerance <= 0.5 * abs(published) or published == 0.0


EXTRA = {"none", "all"}
# Where the names of fields come from: a table's column, and which of its rows count, one or more ways for a column.
HOMES: dict[tuple[str, str], list[dict[str, str]]] = {
    ("pipe_materials", "material"): [{}],
    ("pipe_dimensions", "nominal_size"): [{}],
    ("fitting_losses", "fitting"): [{"default": "yes"}],
    ("chlorination_rules", "name"): [{}],
    ("neutralisers", "agent"): [{}],
    ("chlorine_products", "name"): [{}],
    ("uv_organisms", "name"): [{}, {"form": "constant"}],
    ("insulation_materials", "material"): [{}],
    ("water_sources", "water_source"): [{}],
}


def sets_of_names() -> dict[frozenset[str], str]:
    """Return the sets of names of every choice in the register, each with one field that has it."""
    found: dict[frozenset[str], str] = {}
    for entry in calculations().values():
        for holder, field in every_field(entry):
            if isinstance(field, ChoiceField):
                found.setdefault(frozenset(field.names) - EXTRA, f"{holder.__name__}.{field.name}")
    return found


def keys_of(name: str, column: str, only: dict[str, str]) -> frozenset[str]:
    rows = table(name).rows
    return frozenset(row[column] for row in rows if all(row[key] == value for key, value in only.items()))


@pytest.mark.parametrize(("name", "column"), list(HOMES), ids=".".join)
def test_names_in_contracts_are_the_keys_of_their_tables(name: str, column: str) -> None:
    named = sets_of_names()
    for only in HOMES[name, column]:
        assert keys_of(name, column, only) in named, f"no field has the names of {name}.{column} {only}"


def test_no_names_repeat_a_part_of_a_table() -> None:
    homes = {keys_of(name, column, only) for (name, column), ways in HOMES.items() for only in ways}
    for names, field in sets_of_names().items():
        if names in homes or len(names) < 4:
            continue
        for name in NAMES:
            for column in table(name).rows[0]:
                assert not names < keys_of(name, column, {}), (
                    f"{field} repeats a part of {name}.{column}: add it to HOMES"
                )


def test_every_unit_is_of_a_kind_that_some_field_may_have() -> None:
    dimensions = {kind.dimension for kind in KINDS.values()}
    assert {row["dimension"] for row in table("units").rows} == dimensions - {"plain"}
