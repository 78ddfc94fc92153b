"""The README is true: its curl lines and Python blocks run, its answer and its picture are the present ones.

Only the address of the service is replaced. A curl line that expects an error names its status at the end: ``# 422``.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from dosewright.cli import main
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
    assert all(SHOWN_ADDRESS in line for line in CURL), f"each curl line calls {SHOWN_ADDRESS}"


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
def test_a_python_block_of_the_readme_gives_the_same_in_process_and_over_http(
    server: ServerProcess, block: str, tmp_path: Path
) -> None:
    here = run_python(block, tmp_path)
    assert here
    remote = block.replace("import InProcess", "import Client").replace("InProcess()", f"Client({server.base_url!r})")
    assert "Client(" in remote
    assert run_python(remote, tmp_path) == here


def test_the_answer_shown_is_the_present_one(capsys: pytest.CaptureFixture[str]) -> None:
    (shown,) = (block.text for block in blocks() if block.language == "console")
    command, _, lines = shown.partition("\n")
    assert main(command.split("dosewright ")[1].split()) == 0
    whole = capsys.readouterr().out
    start, _, cautions = whole.partition("Caution: ")
    assert lines == f"{start}… and {cautions.count('Caution: ') + 1} cautions\n"


def test_the_picture_shown_is_the_present_one(tmp_path: Path) -> None:
    ((alternative, name),) = re.findall(r"^!\[(.*)\]\((.*\.svg)\)$", README.read_text(encoding="utf-8"), re.MULTILINE)
    committed = README.parent / name
    script = tmp_path / committed.with_suffix(".py").name
    shutil.copy(committed.with_suffix(".py"), script)
    assert run_script([str(script)], tmp_path).strip() == alternative
    assert script.with_suffix(".svg").read_bytes() == committed.read_bytes(), f"run {name.replace('.svg', '.py')}"


def run_python(source: str, folder: Path) -> str:
    return run_script(["-c", source], folder)


def run_script(arguments: list[str], folder: Path) -> str:
    ran = subprocess.run([sys.executable, *arguments], capture_output=True, text=True, timeout=60, cwd=folder)
    assert ran.returncode == 0, ran.stderr
    return ran.stdout
