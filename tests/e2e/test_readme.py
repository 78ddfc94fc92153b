"""What the README shows works as it stands: each curl line by real curl against a running server, each Python block.

Only the address is put in its place. A curl line whose answer is a refusal says so in a comment at its end: ``# 422``.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from dosewright.engine.registry import calculations
from readme import README, SHOWN_ADDRESS, blocks, lines_that_start_with

if TYPE_CHECKING:
    from pathlib import Path

    from serverproc import ServerProcess

CURL = lines_that_start_with("curl ")
PYTHON = [block.text for block in blocks() if block.language == "python"]


def test_the_readme_shows_curl_lines_and_python() -> None:
    assert len(CURL) >= 3
    assert PYTHON
    assert all(SHOWN_ADDRESS in line for line in CURL), f"each curl line asks {SHOWN_ADDRESS}"


def test_the_readme_lists_every_calculation_and_which_have_no_batch() -> None:
    listed = re.findall(r"^\| `([a-z]+/[a-z-]+)` \| ", README.read_text(encoding="utf-8"), re.MULTILINE)
    assert sorted(listed) == sorted(calculations())
    assert {path for path, entry in calculations().items() if not entry.batch} == set(listed[-3:])


@pytest.mark.parametrize("line", CURL)
def test_a_curl_line_of_the_readme_works(server: ServerProcess, line: str, tmp_path: Path) -> None:
    if not shutil.which("curl"):
        (pytest.fail if os.environ.get("CI") else pytest.skip)("curl is not installed")
    expected = re.search(r"#\s*(\d{3})\b[^'\"]*$", line)
    command = line.replace(SHOWN_ADDRESS, server.base_url)
    command = command.replace("curl ", "curl --silent --show-error --write-out '%{stderr}%{http_code}' ", 1)
    ran = subprocess.run(["bash", "-c", command], capture_output=True, text=True, timeout=30, cwd=tmp_path)
    assert ran.returncode == 0, ran.stderr
    assert ran.stderr[-3:] == (expected[1] if expected else "200"), ran.stdout
    assert ran.stdout or any(tmp_path.iterdir())


@pytest.mark.parametrize("block", PYTHON)
def test_a_python_block_of_the_readme_says_the_same_in_process_and_over_http(
    server: ServerProcess, block: str, tmp_path: Path
) -> None:
    here = run_python(block, tmp_path)
    assert here
    remote = block.replace("import InProcess", "import Client").replace("InProcess()", f"Client({server.base_url!r})")
    assert "Client(" in remote
    assert run_python(remote, tmp_path) == here


def run_python(source: str, folder: Path) -> str:
    ran = subprocess.run([sys.executable, "-c", source], capture_output=True, text=True, timeout=60, cwd=folder)
    assert ran.returncode == 0, ran.stderr
    return ran.stdout
