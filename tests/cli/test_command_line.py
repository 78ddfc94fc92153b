"""The commands a person types: demo and verify, as processes of their own."""

import csv
import io
import re
import subprocess
import sys

import pytest

from dosewright.cli import main
from dosewright.engine import check_values
from dosewright.tables import check_names, checks
from dosewright_sdk import InProcess

MAIN_JOB = ("uv/dose", "uv/derated-flow", "chlorine/shock", "pipe/velocity", "pipe/pressure-drop")


def run(*arguments: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run([sys.executable, "-m", "dosewright", *arguments], capture_output=True, text=True, timeout=120)


def test_demo_runs_the_main_job_and_ends_well() -> None:
    ran = run("demo")
    assert ran.returncode == 0, ran.stderr
    for told in ("invented", "Mean dose", "Derated flow", "Hold", "Pressure drop", "Cautions", "Warnings"):
        assert told in ran.stdout
    assert "The service has stopped." in ran.stdout
    addresses = re.findall("^http://127.0.0.1:8254(/v1/.*)$", ran.stdout, re.MULTILINE)
    assert {address.split("?")[0] for address in addresses} == {f"/v1/{path}" for path in MAIN_JOB}
    # The lines of Python ask what the addresses ask.
    lines = re.findall(r"^print\((dosewright\..*)\)$", ran.stdout, re.MULTILINE)
    answers = [eval(line, {"dosewright": InProcess()}) for line in lines]  # noqa: S307 - our own output
    assert [answer.question for answer in answers] == addresses
    # What is told is what they answer, and each danger is told once.
    words = " ".join(ran.stdout.split())
    remarks = {remark.message for answer in answers for remark in (*answer.warnings, *answer.cautions)}
    assert all(words.count(message) == 1 for message in remarks)
    for step in next(answer for answer in answers if answer.question.startswith("/v1/uv/derated-flow")).steps:
        assert f"x {step.factor:.3f} -> {step.flow:.2f} gal/min" in words


def test_verify_meets_every_published_value() -> None:
    ran = run("verify", "--csv")
    assert ran.returncode == 0, ran.stderr
    rows = list(csv.DictReader(io.StringIO(ran.stdout)))
    assert len(rows) == sum(len(checks(name)) for name in check_names()) > 0
    assert all(row["verdict"] == "met" and row["source"] for row in rows)


def test_verify_sees_a_wrong_value(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    name = check_names()[0]
    true_row = checks(name)[0]
    off = float(true_row["published"]) + 3 * float(true_row["tolerance"]) + 1e-6
    monkeypatch.setattr(check_values, "checks", lambda _: ({**true_row, "published": repr(off)},))
    assert main(["verify", name]) == 1
    told = capsys.readouterr()
    assert "MISSED" in told.out
    assert true_row["id"] in told.err


def test_verify_sees_a_refusal(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    name = check_names()[0]
    monkeypatch.setattr(check_values, "checks", lambda _: ({**checks(name)[0], "inputs": "{}"},))
    assert main(["verify", name]) == 1
    assert "required" in capsys.readouterr().err


def test_verify_names_the_topics_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["verify", "nothing"]) == 2
    assert check_names()[0] in capsys.readouterr().err


def test_a_closed_pipe_ends_without_a_traceback():
    """`dosewright … | head -1`: the reader stops before the plan is printed."""
    command = [sys.executable, "-c", "from dosewright.cli import main; raise SystemExit(main())", "verify"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.read(1)
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 141
