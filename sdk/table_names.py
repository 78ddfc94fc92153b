"""Writes ``dosewright/tables/names.py``: the names in the tables as types, so that an editor completes them.

For contributors: a table whose names a contract takes has one entry in :data:`COLUMNS`. ``python sdk/generate.py``
writes the file with the others; ``python sdk/table_names.py`` writes it alone, where a contract imports a new type.
"""

from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from dosewright.tables import table

__all__ = ["COLUMNS", "PATH", "Column", "names_of", "names_source"]

PATH = Path(__file__).resolve().parents[1] / "api" / "dosewright" / "tables" / "names.py"
_WIDTH = 120
_HEAD = '''"""Names in the tables, as types: written by ``sdk/generate.py`` from the data files, so change those."""

from typing import Literal, TypeAlias

'''


class Column(NamedTuple):
    """Where the names of one type come from: a column of a table, of all its rows or of those with a mark."""

    table: str
    column: str
    only: Mapping[str, str] = {}
    by_size: bool = False


COLUMNS = {
    "BafflingName": Column("baffling_factors", "name"),
    "ChlorinationRule": Column("chlorination_rules", "name"),
    "ConstantOrganism": Column("uv_organisms", "name", {"form": "constant"}),
    "CreditOrganism": Column("uv_credit_doses", "organism"),
    "CtOrganism": Column("ct_other", "organism"),
    "CurveName": Column("demand_curves", "curve"),
    "Disinfectant": Column("ct_other", "disinfectant"),
    "FittingName": Column("fitting_losses", "fitting", {"default": "yes"}),
    "FixtureName": Column("fixtures", "fixture"),
    "FlushSystem": Column("demand_curves", "system"),
    "HousingSize": Column("filter_housings", "name"),
    "InsulationName": Column("insulation_materials", "material"),
    "ListedOrganism": Column("uv_organisms", "name"),
    "MaterialName": Column("pipe_materials", "material"),
    "MeasuredAs": Column("measures", "dimension"),
    "MeasureSystemName": Column("measures", "system"),
    "NeutraliserName": Column("neutralisers", "agent"),
    "NominalSize": Column("pipe_dimensions", "nominal_size", by_size=True),
    "ProductName": Column("chlorine_products", "name"),
    "WaterSourceName": Column("water_sources", "water_source"),
}


def names_of(column: Column) -> tuple[str, ...]:
    """Return the names, each once, in the order of the table, or by size where they are sizes."""
    rows = (row for row in table(column.table).rows if all(row[name] == mark for name, mark in column.only.items()))
    names = tuple(dict.fromkeys(row[column.column] for row in rows if row[column.column]))
    return tuple(sorted(names, key=_size)) if column.by_size else names


def _size(name: str) -> Fraction:
    return sum((Fraction(part) for part in name.split("-")), Fraction(0))


def names_source() -> str:
    """Return the source of ``names.py``."""
    parts = [_HEAD, _listed("__all__ = [", sorted(COLUMNS), "]")]
    for name, column in COLUMNS.items():
        where = f"tables/data/{column.table}.csv, {column.column}"
        marks = "".join(f", where {key} is {mark}" for key, mark in column.only.items())
        parts.append(f'\n{_listed(f"{name}: TypeAlias = Literal[", names_of(column), "]")}"""{where}{marks}."""\n')
    return "".join(parts)


def _listed(start: str, names: "tuple[str, ...] | list[str]", end: str) -> str:
    quoted = [f'"{name}"' for name in names]
    line = f"{start}{', '.join(quoted)}{end}\n"
    return line if len(line) <= _WIDTH else start + "\n" + "".join(f"    {one},\n" for one in quoted) + f"{end}\n"


if __name__ == "__main__":
    PATH.write_text(names_source(), encoding="utf-8")
