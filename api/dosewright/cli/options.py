"""Options of a calculation, made from its contract."""

import argparse
import textwrap
from collections.abc import Iterator
from typing import Any

from dosewright.engine.fields.field import Field
from dosewright.engine.fields.section import SectionField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, calculations
from dosewright.quantities import PROFILES

__all__ = ["add_tree", "parser_for"]

_FORMS = ("text", "json", "csv", "table")
_EPILOG = """A quantity is written with its unit, "9 gal/min". A list repeats its option, one item each, written
"kind;name:value;name:value". Many rows: --input reads CSV with one column a field, named "flow [gal/min]",
or "flow" with the unit in each cell, or with --units-row the units in the second row; an empty cell is absent.
Other options apply to all rows.

Exit status: 0 answered; 1 some rows could not be answered (see their error column); 2 nothing could be."""


def add_tree(parser: argparse.ArgumentParser) -> None:
    """Add a parser for every calculation, topic by topic, names of closed sets included; for completion."""
    topics = parser.add_subparsers(dest="topic")
    names: dict[str, Any] = {}
    for entry in calculations().values():
        if entry.topic not in names:
            names[entry.topic] = topics.add_parser(entry.topic, help=entry.topic).add_subparsers(dest="name")
        command = names[entry.topic].add_parser(entry.name, help=entry.summary)
        _add_options(command, entry, choices=True)


def parser_for(entry: Calculation[Any, Any]) -> argparse.ArgumentParser:
    """Return the parser of one calculation's options."""
    parser = argparse.ArgumentParser(
        prog=f"dosewright calc {entry.topic} {entry.name}",
        description=f"{entry.summary}. {entry.description}",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
        usage=f"dosewright calc {entry.topic} {entry.name} [options]",
    )
    _add_options(parser, entry, choices=False)
    return parser


def _add_options(parser: argparse.ArgumentParser, entry: Calculation[Any, Any], *, choices: bool) -> None:
    inputs = parser.add_argument_group("inputs")
    for name, field in _inputs(entry):
        names: dict[str, Any] = {"choices": field.names} if choices and field.names else {}
        repeated: dict[str, Any] = {"action": "append"} if field.repeats else {}
        inputs.add_argument(
            *dict.fromkeys([f"--{name.replace('_', '-')}", f"--{name}"]),
            dest=f"input.{name}",
            metavar=field.placeholder,
            help=_help(field).replace("%", "%%"),
            **names,
            **repeated,
        )
    form = parser.add_argument_group("units and form of the answer")
    form.add_argument("--units", dest="input.units", metavar="PROFILE", help="us, metric or si", choices=PROFILES)
    form.add_argument(
        "--answer-units",
        metavar="FIELD:UNIT",
        action="append",
        help="unit of one field of the answer, as velocity:ft/s",
    )
    form.add_argument("--format", choices=_FORMS, help="text (default), json, csv, or table: one JSON record a row")
    form.add_argument("--pick", metavar="FIELD", help="print only this value of the answer, unrounded")
    form.add_argument(
        "--decimal", choices=("point", "comma"), default="point", help="sign of decimals in CSV (default: point)"
    )
    many = parser.add_argument_group("many rows")
    many.add_argument("--input", metavar="FILE", help="CSV file of rows; - reads standard input")
    many.add_argument("--units-row", action="store_true", help="the second row of the file gives the units")
    parser.add_argument("--output", metavar="FILE", help="file to write the answer to (default: standard output)")


def _inputs(entry: Calculation[Any, Any], before: str = "") -> Iterator[tuple[str, Field]]:
    """Yield each input by its name in a query, with its reader."""
    for field in reader_for(entry.request).fields:
        if isinstance(field, SectionField):
            yield from _inputs(calculations()[field.calculation], f"{before}{field.name}.")
        else:
            yield before + field.name, field


def _help(field: Field) -> str:
    texts = [field.doc, *field.help()]
    if field.names:
        texts.append(textwrap.shorten(f"One of: {', '.join(field.names)}", 400, placeholder=" …") + ".")
    if field.required:
        texts.append("Required.")
    elif field.default_text is not None:
        texts.append(f"Default: {field.default_text}.")
    return " ".join(texts)
