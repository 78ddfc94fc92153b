"""Commands that run something: the service, the demonstration, the making of workbooks."""

import argparse
import importlib
import sys
from pathlib import Path
from typing import Any

__all__ = ["add_commands", "needs"]


def add_commands(commands: Any) -> None:
    """Add ``serve``, ``demo`` and ``workbooks``."""
    _add_serve(commands)
    _add_demo(commands)
    _add_workbooks(commands)


def _add_serve(commands: Any) -> None:
    serve = commands.add_parser("serve", help="serve over HTTP until stopped")
    serve.add_argument("--host", default="127.0.0.1", help="address to listen at (default: this machine only)")
    serve.add_argument("--port", type=int, default=8254, help="port to listen at; 0 takes a free one (default: 8254)")
    serve.add_argument("--workers", type=int, default=1, help="number of processes (default: 1)")
    serve.add_argument("--root-path", default="", help="path that a proxy in front strips, e.g. /dosewright")
    origins = "web origin allowed to call from a browser, or *; can be repeated (default: none)"
    serve.add_argument("--cors-origin", action="append", default=[], metavar="ORIGIN", help=origins)
    levels = ("debug", "info", "warning", "error")
    serve.add_argument("--log-level", choices=levels, default="info", help="lowest level logged (default: info)")
    serve.set_defaults(run=_serve)


def _serve(chosen: argparse.Namespace) -> int:
    try:
        from dosewright.http.server import serve  # noqa: PLC0415 - the server extra is optional
    except ModuleNotFoundError as missing:
        return needs("serve", "server", missing)
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
    text = "run the main job on an invented cottage: start the service, print the answers, stop it"
    commands.add_parser("demo", help=text, description=text).set_defaults(run=_demo)


def _demo(_: argparse.Namespace) -> int:
    try:
        # By name, since the client depends on this package and not the other way round.
        demo = importlib.import_module("dosewright_sdk.demo")
    except ModuleNotFoundError as missing:
        return needs("demo", "server,client", missing)
    return int(demo.main())


def _add_workbooks(commands: Any) -> None:
    text = "write a workbook for every calculation, as .xlsx, that calls a service"
    made = commands.add_parser("workbooks", help=text, description=text)
    made.add_argument("folder", help="folder to write to; created if missing")
    made.add_argument(
        "--address", default="http://127.0.0.1:8254", help="address of the service (default: this machine)"
    )
    made.set_defaults(run=_workbooks)


def _workbooks(chosen: argparse.Namespace) -> int:
    try:
        from dosewright.present.workbook.writing import write_all  # noqa: PLC0415 - the extra is optional
    except ModuleNotFoundError as missing:
        return needs("workbooks", "workbooks", missing)
    for path in write_all(Path(chosen.folder), chosen.address):
        print(path)
    return 0


def needs(command: str, extras: str, missing: ModuleNotFoundError) -> int:
    """Print which extra a command requires; returns the exit status."""
    advice = f"pip install 'dosewright[{extras}]'"
    print(f"dosewright {command} needs {missing.name}, which is not installed: {advice}", file=sys.stderr)
    return 2
