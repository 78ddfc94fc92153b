"""The examples for integrators run as they stand against a running service, and say what is said in process."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from commands import run
from main_job import QUESTIONS

from debian import program
from dosewright.engine.run import run as run_here
from dosewright_sdk import InProcess

if TYPE_CHECKING:
    from collections.abc import Callable

    from serverproc import ServerProcess

EXAMPLES = Path(__file__).parents[2] / "sdk" / "examples"
WANTED = {
    "uv/dose": ["mean_dose"],
    "uv/derated-flow": ["derated_flow"],
    "chlorine/shock": ["product_volume", "hold_time"],
    "pipe/velocity": ["velocity"],
    "pipe/pressure-drop": ["outlet_pressure"],
}
OTHERS = {"first_day_async.py", "compare_plans.py"}
PICTURE = {"derated_flow.py", "derated_flow.svg"}  # run by tests/e2e/test_readme.py
RUNNERS: dict[str, Callable[[], str]] = {
    "first_day.sh": lambda: program("curl", "curl") and program("bash", "bash"),
    "first_day.py": lambda: sys.executable,
    "first_day.mjs": lambda: program("node", "nodejs"),
    "FirstDay.java": lambda: program("java", "default-jdk-headless"),
}


def test_every_example_is_run_here() -> None:
    assert {path.name for path in EXAMPLES.iterdir() if path.is_file()} == {*RUNNERS, *OTHERS, *PICTURE}


@pytest.mark.parametrize("name", list(RUNNERS))
def test_an_example_asks_the_main_job(server: ServerProcess, tmp_path: Path, name: str) -> None:
    told = run_example(RUNNERS[name](), name, server.base_url, tmp_path)
    found = {
        (path, field): (float(value), unit)
        for path, field, value, unit in re.findall(r"^(\S+/\S+) (\w+) = (\S+) (\S+)$", told, re.MULTILINE)
    }
    answers: dict[str, Any] = {path: run_here(path, QUESTIONS[path]) for path in WANTED}
    assert found == {
        (path, field): (getattr(answers[path], field), answers[path].units[field])
        for path, fields in WANTED.items()
        for field in fields
    }
    # What can hurt is shown as well, and what a refusal looks like.
    for entry in [*answers["chlorine/shock"].warnings, *answers["chlorine/shock"].cautions]:
        assert entry.message in told
    assert re.search(r"^invalid: .*", told, re.MULTILINE)
    assert "unit_wrong_dimension" in told


def test_a_hundred_calls_at_once_say_what_the_batch_says(server: ServerProcess, tmp_path: Path) -> None:
    told = run_example(sys.executable, "first_day_async.py", server.base_url, tmp_path).splitlines()
    assert told.pop() == "the batch of 100 rows gives the same: True"
    assert len(told) == 100
    pipe = InProcess().pipe
    for line in told:
        flow, velocity = (float(part.split()[0]) for part in line.split(": "))
        here = pipe.velocity(flow=flow, material="copper_type_l", nominal_size="3/4", units="us")
        assert velocity == here.velocity


def test_one_input_of_a_plan_is_changed_to_compare(server: ServerProcess, tmp_path: Path) -> None:
    told = run_example(sys.executable, "compare_plans.py", server.base_url, tmp_path)
    verdicts = re.findall(r"^([a-z ]+): (suitable|fix_first|not_suitable|incomplete); unit (\d)", told, re.MULTILINE)
    assert verdicts == [
        ("as it is", "suitable", "1"),
        ("after a wet spring", "not_suitable", "1"),
        ("two in parallel", "fix_first", "2"),
    ]
    assert re.search(r"^water_test\.uvt: 87 % now, not_suitable past [0-9.]+ %$", told, re.MULTILINE)


@pytest.mark.parametrize("name", ["first_day.py", "compare_plans.py"])
def test_an_example_says_what_is_wrong_where_no_service_answers(tmp_path: Path, name: str) -> None:
    nobody = "http://127.0.0.1:9"
    command = [sys.executable, str(EXAMPLES / name), nobody]
    ran = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=60)
    assert ran.returncode == 1
    assert "is dosewright serve running" in ran.stderr
    assert "Traceback" not in ran.stderr


def run_example(runner: str, name: str, address: str, folder: Path) -> str:
    if name.endswith(".py"):  # through the client of this checkout, so in its environment
        ran = subprocess.run(
            [runner, str(EXAMPLES / name), address], cwd=folder, capture_output=True, text=True, timeout=60
        )
        assert ran.returncode == 0, ran.stderr
        return ran.stdout
    return run([runner, EXAMPLES / name, address], folder)
