"""The command line: serve, and (further commands register below) what a person does without a browser."""

import argparse
import sys
from collections.abc import Sequence
from typing import Any

from dosewright import __version__

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; returns the exit status."""
    parser = argparse.ArgumentParser(
        prog="dosewright", description="Checked disinfection calculations for private wells."
    )
    parser.add_argument("--version", action="version", version=f"dosewright {__version__}")
    commands = parser.add_subparsers(dest="command", required=True)
    _add_serve(commands)
    chosen = parser.parse_args(arguments)
    return int(chosen.run(chosen) or 0)


def _add_serve(commands: Any) -> None:
    serve = commands.add_parser("serve", help="answer over HTTP until told to stop")
    serve.add_argument("--host", default="127.0.0.1", help="address to listen at (default: this machine only)")
    serve.add_argument("--port", type=int, default=8254, help="port to listen at; 0 takes a free one (default: 8254)")
    serve.add_argument("--workers", type=int, default=1, help="number of processes (default: 1)")
    serve.add_argument("--root-path", default="", help="path that a proxy in front strips, e.g. /dosewright")
    levels = ("debug", "info", "warning", "error")
    serve.add_argument("--log-level", choices=levels, default="info", help="lowest level logged (default: info)")
    serve.set_defaults(run=_serve)


def _serve(chosen: argparse.Namespace) -> int:
    try:
        from dosewright.service.server import serve  # noqa: PLC0415 - the server extra may not be installed
    except ModuleNotFoundError as missing:
        print(
            f"dosewright serve needs the server extra ({missing.name} is missing): pip install 'dosewright[server]'",
            file=sys.stderr,
        )
        return 2
    serve(
        host=chosen.host,
        port=chosen.port,
        workers=chosen.workers,
        root_path=chosen.root_path.rstrip("/"),
        log_level=chosen.log_level,
    )
    return 0
