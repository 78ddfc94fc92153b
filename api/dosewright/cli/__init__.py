"""The command line: serve, calculate, plan, demonstrate, verify."""

import argparse
import os
import sys
from collections.abc import Sequence

import dosewright.topics  # noqa: F401 # pyright: ignore[reportUnusedImport] - registers the calculations
from dosewright import __version__
from dosewright.cli import calc, completion, from_file, options, serve, verify

__all__ = ["main"]

_CLOSED_PIPE = 141  # as a shell reports a command that was ended by SIGPIPE


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; returns the exit status."""
    try:
        status = _run(list(sys.argv[1:] if arguments is None else arguments))
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader of the output stopped, as `head` does. The interpreter flushes at exit, so give it somewhere to.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _CLOSED_PIPE
    return status


def _run(given: list[str]) -> int:
    if given[:1] == ["calc"]:
        # Its parser is made from the register, and only for the calculation named.
        return calc.main(given[1:])
    chosen = _parser().parse_args(given)
    return int(chosen.run(chosen) or 0)


def _parser(*, with_calculations: bool = False) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="dosewright", description="Checked disinfection calculations for private wells."
    )
    parser.add_argument("--version", action="version", version=f"dosewright {__version__}")
    commands = parser.add_subparsers(dest="command", required=True)
    serve.add_commands(commands)
    calculate = commands.add_parser("calc", help=calc.SUMMARY, add_help=False)
    if with_calculations:
        options.add_tree(calculate)
    from_file.add_commands(commands)
    verify.add_command(commands)
    completion.add_command(commands, lambda: _parser(with_calculations=True))
    return parser
