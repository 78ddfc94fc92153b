"""The command line: serve, demonstrate, verify."""

import argparse
import csv
import importlib
import sys
from collections.abc import Sequence
from typing import Any

from dosewright import __version__
from dosewright.tables import check_names
from dosewright.verify import Verdict, verdicts

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; returns the exit status."""
    parser = argparse.ArgumentParser(
        prog="dosewright", description="Checked disinfection calculations for private wells."
    )
    parser.add_argument("--version", action="version", version=f"dosewright {__version__}")
    commands = parser.add_subparsers(dest="command", required=True)
    _add_serve(commands)
    _add_demo(commands)
    _add_verify(commands)
    chosen = parser.parse_args(arguments)
    return int(chosen.run(chosen) or 0)


def _add_serve(commands: Any) -> None:
    serve = commands.add_parser("serve", help="answer over HTTP until told to stop")
    serve.add_argument("--host", default="127.0.0.1", help="address to listen at (default: this machine only)")
    serve.add_argument("--port", type=int, default=8254, help="port to listen at; 0 takes a free one (default: 8254)")
    serve.add_argument("--workers", type=int, default=1, help="number of processes (default: 1)")
    serve.add_argument("--root-path", default="", help="path that a proxy in front strips, e.g. /dosewright")
    origins = "web origin whose pages may ask from a browser, or *; may be repeated (default: none)"
    serve.add_argument("--cors-origin", action="append", default=[], metavar="ORIGIN", help=origins)
    levels = ("debug", "info", "warning", "error")
    serve.add_argument("--log-level", choices=levels, default="info", help="lowest level logged (default: info)")
    serve.set_defaults(run=_serve)


def _serve(chosen: argparse.Namespace) -> int:
    try:
        from dosewright.service.server import serve  # noqa: PLC0415 - the server extra may not be installed
    except ModuleNotFoundError as missing:
        return _needs("serve", "server", missing)
    serve(
        host=chosen.host,
        port=chosen.port,
        workers=chosen.workers,
        root_path=chosen.root_path.rstrip("/"),
        log_level=chosen.log_level,
        origins=chosen.cors_origin,
    )
    return 0


def _add_demo(commands: Any) -> None:
    text = "run the main job on an invented cottage: start the service, ask it, print the answers, stop it"
    commands.add_parser("demo", help=text, description=text).set_defaults(run=_demo)


def _demo(_: argparse.Namespace) -> int:
    try:
        # By name, since the client stands on this package and not the other way round.
        demo = importlib.import_module("dosewright_sdk.demo")
    except ModuleNotFoundError as missing:
        return _needs("demo", "server,client", missing)
    return int(demo.main())


def _needs(command: str, extras: str, missing: ModuleNotFoundError) -> int:
    advice = f"pip install 'dosewright[{extras}]'"
    print(f"dosewright {command} needs {missing.name}, which is not installed: {advice}", file=sys.stderr)
    return 2


def _add_verify(commands: Any) -> None:
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
        _print_table(rows)
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


def _print_table(rows: list[list[str]]) -> None:
    widths = [max(len(row[index]) for row in [list(_COLUMNS), *rows]) for index in range(len(_COLUMNS) - 1)]
    for row in [list(_COLUMNS), *rows]:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        print("  ".join([*cells, row[-1]]))
