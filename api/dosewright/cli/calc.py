"""The command that answers one calculation, or a file of rows, with options made from the calculation's contract."""

import argparse
import sys
import textwrap
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from dosewright.cli import rows, terminal
from dosewright.cli.options import parser_for
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import Calculation, calculations
from dosewright.engine.run import answer
from dosewright.http import query
from dosewright.http.formats import FORMATS, View
from dosewright.http.problems import ProblemError
from dosewright.present.blocks import Table
from dosewright.present.text import table_text
from dosewright.quantities.spelling import nearest

__all__ = ["SUMMARY", "main"]

SUMMARY = "run one calculation, or a file of rows"
_USAGE = 2


def main(arguments: Sequence[str]) -> int:
    """Run ``dosewright calc``; returns the exit status."""
    words = [word for word in arguments[:2] if not word.startswith("-")]
    path = "/".join(words[:1] if words and "/" in words[0] else words)
    entry = calculations().get(path)
    if entry is None:
        return _no_such(path, requested=bool(set(arguments) & {"-h", "--help"}))
    used = 1 if "/" in words[0] else 2
    parser = parser_for(entry)
    chosen, rest = parser.parse_known_args(arguments[used:])
    try:
        return _run(entry, chosen, _given(chosen, entry) | _unknown(parser, rest))
    except RequestRefused as refusal:
        terminal.print_faults(refusal.faults)
    except ProblemError as problem:
        terminal.print_faults(problem.problem.errors, problem.problem.detail)
    except (OSError, rows.UnreadableRows) as error:
        print(f"dosewright calc {path}: {error}", file=sys.stderr)
    return _USAGE


def _no_such(path: str, *, requested: bool) -> int:
    if path:
        guess = nearest(path, tuple(calculations()))
        hint = f" Did you mean: dosewright calc {guess.replace('/', ' ')}?" if guess else ""
        print(f"Unknown calculation: {path.replace('/', ' ')}.{hint}\n", file=sys.stderr)
    out = sys.stdout if requested or not path else sys.stderr
    print("usage: dosewright calc <topic> <name> [options]     (--help after the name lists its options)\n", file=out)
    rows = [(name.replace("/", " "), entry.summary) for name, entry in calculations().items()]
    print(textwrap.indent(table_text(Table("", (), rows), whole=True), "  "), file=out)
    return 0 if requested else _USAGE


def _given(chosen: argparse.Namespace, entry: Calculation[Any, Any]) -> dict[str, Any]:
    """Return the options as the parameters of a query."""
    given = {
        name.removeprefix("input."): value
        for name, value in vars(chosen).items()
        if name.startswith("input.") and value is not None
    }
    if chosen.answer_units:
        given["answer_units"] = ";".join(chosen.answer_units)
    return query.nested(given, query.section_names(entry))


def _unknown(parser: argparse.ArgumentParser, rest: Sequence[str]) -> dict[str, Any]:
    """Return options that no field has, so that the reader reports them with the other faults."""
    unknown: dict[str, Any] = {}
    words = iter(rest)
    for word in words:
        if not word.startswith("--"):
            parser.error(f"{word!r} has no option before it. Put a value with spaces in quotes")
        name, equals, value = word.removeprefix("--").partition("=")
        unknown[name.replace("-", "_")] = value if equals else next(words, "")
    return unknown


def _run(entry: Calculation[Any, Any], chosen: argparse.Namespace, given: Mapping[str, Any]) -> int:
    if chosen.input:
        return _run_rows(entry, chosen, given)
    found = answer(entry, given, query=True)
    if chosen.pick:
        body = FORMATS["text"].render(found, View(chosen.pick, decimal_comma=chosen.decimal == "comma")) + b"\n"
    elif chosen.format in {None, "text"}:
        body = f"{found}\n".encode()
    else:
        body = _rendered(found, chosen)
    _write(body, chosen.output)
    return 0


def _run_rows(entry: Calculation[Any, Any], chosen: argparse.Namespace, given: Mapping[str, Any]) -> int:
    comma = chosen.decimal == "comma"
    table = rows.read_rows(_text_of(chosen.input), comma=comma, units_row=chosen.units_row)
    found = rows.answer_rows(entry, table, given, comma=comma)
    body = rows.as_csv(table, found, comma=comma) if chosen.format in {None, "csv"} else _rendered(found, chosen)
    _write(body, chosen.output)
    terminal.print_cautions(found.cautions)
    bad = {row for fault in found.errors for row in fault.rows or ()}
    if bad:
        print(f"{len(bad)} of {found.rows} rows have errors. The error column says why.", file=sys.stderr)
    return 1 if bad else 0


def _rendered(found: Any, chosen: argparse.Namespace) -> bytes:
    body = FORMATS[chosen.format].render(found, View(chosen.pick, decimal_comma=chosen.decimal == "comma"))
    return body if body.endswith(b"\n") else body + b"\n"


def _text_of(name: str) -> str:
    # A spreadsheet can begin its file with a byte order mark.
    return sys.stdin.read() if name == "-" else Path(name).read_text(encoding="utf-8-sig")


def _write(body: bytes, name: str | None) -> None:
    if name in {None, "-"}:
        sys.stdout.write(body.decode())
        sys.stdout.flush()
    else:
        Path(str(name)).write_bytes(body)
