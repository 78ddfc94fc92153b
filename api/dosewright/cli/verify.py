"""The command that recomputes published values."""

import argparse
import csv
import sys
from typing import Any

from dosewright.engine.check_values import Verdict, verdicts
from dosewright.present.blocks import Table
from dosewright.present.text import table_text
from dosewright.tables import check_names

__all__ = ["add_command"]


def add_command(commands: Any) -> None:
    """Add ``verify``."""
    text = "recompute every published check value and print source, published, computed, deviation and verdict"
    verify = commands.add_parser("verify", help=text, description=text)
    verify.add_argument("topics", nargs="*", metavar="topic", help="check tables to run (default: all)")
    verify.add_argument("--csv", action="store_true", help="print comma-separated values")
    verify.set_defaults(run=_verify)


_COLUMNS = (
    "id",
    "calculation",
    "field",
    "published",
    "computed",
    "deviation",
    "tolerance",
    "unit",
    "verdict",
    "source",
)


def _verify(chosen: argparse.Namespace) -> int:
    unknown = sorted(set(chosen.topics) - set(check_names()))
    if unknown:
        print(f"no check table named {', '.join(unknown)}; there are: {', '.join(check_names())}", file=sys.stderr)
        return 2
    rows: list[list[str]] = []
    misses: list[str] = []
    for verdict in verdicts(chosen.topics):
        rows.append(_row(verdict))
        if not verdict.within:
            misses.append(f"{verdict.check['id']}: {verdict.reason or 'outside its tolerance'}")
    if chosen.csv:
        csv.writer(sys.stdout).writerows([_COLUMNS, *rows])
    else:
        print(table_text(Table("", _COLUMNS, rows), whole=True))
        print(f"{len(rows) - len(misses)} of {len(rows)} published values met.")
    for miss in misses:
        print(f"missed  {miss}", file=sys.stderr)
    return 1 if misses else 0


def _row(verdict: Verdict) -> list[str]:
    check = verdict.check
    computed = "-" if verdict.computed is None else f"{verdict.computed:.10g}"
    deviation = "-" if verdict.deviation is None else f"{verdict.deviation:+.2g}"
    source = ", ".join(part for part in (check["source"], check["section"], check["year"], check["status"]) if part)
    return [
        check["id"],
        check["target"],
        check["field"],
        check["published"],
        computed,
        deviation,
        check["tolerance"],
        check["unit"],
        "met" if verdict.within else "MISSED",
        source,
    ]
