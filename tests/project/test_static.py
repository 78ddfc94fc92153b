"""Style, types, import rules and generated files: what a reviewer would otherwise have to look for."""

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
        [str(TOOLS / "lint-imports"), "--no-cache"],
        [sys.executable, "sdk/generate.py", "--check"],
    ],
    ids=["ruff check", "ruff format", "pyright", "import rules", "generated files"],
)
def test_static(command: list[str]) -> None:
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=600)
    assert ran.returncode == 0, ran.stdout + ran.stderr
