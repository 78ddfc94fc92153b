"""The command line: serve, calculate, plan, demonstrate, verify."""

import argparse
import sys
from collections.abc import Sequence

from dosewright import __version__
from dosewright.cli import calc as calculating
from dosewright.cli import completion, options
from dosewright.cli import plan as planning
from dosewright.cli import serve as running
from dosewright.cli import verify as verifying

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; returns the exit status."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    if given[:1] == ["calc"]:
        # Its parser is made from the register, and only for the calculation named.
        return calculating.main(given[1:])
    chosen = _parser().parse_args(given)
    return int(chosen.run(chosen) or 0)


def _parser(*, with_calculations: bool = False) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="dosewright", description="Checked disinfection calculations for private wells."
    )
    parser.add_argument("--version", action="version", version=f"dosewright {__version__}")
    commands = parser.add_subparsers(dest="command", required=True)
    running.add_commands(commands)
    calc = commands.add_parser("calc", help=calculating.SUMMARY, add_help=False)
    if with_calculations:
        options.add_tree(calc)
    planning.add_command(commands)
    verifying.add_command(commands)
    completion.add_command(commands, lambda: _parser(with_calculations=True))
    return parser
