"""Style, types, import rules and generated files: what a reviewer would otherwise have to look for."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TOOLS = Path(sys.executable).parent


@pytest.mark.parametrize(
    "command",
    [
        [str(TOOLS / "ruff"), "check", "."],
        [str(TOOLS / "ruff"), "format", "--check", "."],
        [str(TOOLS / "pyright"), "--pythonpath", sys.executable],
        [str(TOOLS / "pyright"), "--pythonpath", sys.executable, "tests/project/test_adding_a_calculation.py"],
        [str(TOOLS / "lint-imports"), "--no-cache"],
        [sys.executable, "sdk/generate.py", "--check"],
    ],
    ids=["ruff check", "ruff format", "pyright", "pyright of a test", "import rules", "generated files"],
)
def test_static(command: list[str]) -> None:
    plain = {name: value for name, value in os.environ.items() if name != "PYTHONPATH" or "generate.py" in command[1]}
    ran = subprocess.run(command, cwd=ROOT, env=plain, capture_output=True, text=True, timeout=600)
    assert ran.returncode == 0, ran.stdout + ran.stderr
