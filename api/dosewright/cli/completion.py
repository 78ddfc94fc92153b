"""The command that prints a shell's completion script, made from the same parsers that read the command line."""

import argparse
import sys
from collections.abc import Callable
from typing import Any

from dosewright.cli.serve import needs

__all__ = ["SHELLS", "add_command"]

SHELLS = ("bash", "zsh", "fish")
_HOW = """To load it in every new shell:

  bash:  dosewright completion bash > ~/.local/share/bash-completion/completions/dosewright
  zsh:   dosewright completion zsh > ~/.zfunc/_dosewright      (with ~/.zfunc in fpath before compinit)
  fish:  dosewright completion fish > ~/.config/fish/completions/dosewright.fish
"""


def add_command(commands: Any, parser: Callable[[], argparse.ArgumentParser]) -> None:
    """Add ``completion``; `parser` builds the parser of all commands and all calculations."""
    command = commands.add_parser(
        "completion",
        help="print a script that completes commands, options and names at the tab key",
        epilog=_HOW,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.add_argument("shell", choices=SHELLS)

    def run(chosen: argparse.Namespace) -> int:
        try:
            import shtab  # noqa: PLC0415 - the completion extra is optional
        except ModuleNotFoundError as missing:
            return needs("completion", "completion", missing)
        sys.stdout.write(shtab.complete(parser(), shell=chosen.shell))
        return 0

    command.set_defaults(run=run)
