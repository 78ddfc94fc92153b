"""Commands that must succeed, run with nothing of this checkout in their way."""

import os
import subprocess
from collections.abc import Sequence
from pathlib import Path

__all__ = ["run"]


def run(command: Sequence[str | Path], folder: Path) -> str:
    """Run a command in a folder; returns what it printed."""
    # Its own packages only: what this checkout holds must not be found by accident.
    clean = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    ran = subprocess.run([*map(str, command)], cwd=folder, env=clean, capture_output=True, text=True, timeout=300)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return ran.stdout
