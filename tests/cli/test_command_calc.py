"""``dosewright calc``: options from the contract, forms of answer, many rows, faults, exit statuses, completion."""

import csv
import io
import json
import os
import pty
import re
import select
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from contract_walk import as_word
from debian import program
from dosewright.cli import main
from dosewright.engine.base import Answer
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.present.rounding import TABLE_DIGITS, number
from dosewright.present.rows import own_leaves

PIPE = ["calc", "pipe", "velocity", "--flow", "9 gal/min", "--bore", "20 mm"]
SINGLE = [path for path, entry in calculations().items() if entry.batch]


def as_options(example: Any) -> list[str]:
    """Write a request as options, lists as in a query."""
    options: list[str] = []
    for name, value in example.items():
        for one in value if isinstance(value, list) else [value]:
            options += [f"--{name.replace('_', '-')}", as_word(one)]
    return options


def told(capsys: pytest.CaptureFixture[str], *arguments: str, status: int = 0) -> tuple[str, str]:
    assert main(arguments) == status
    captured = capsys.readouterr()
    return captured.out, captured.err


# One answer


@pytest.mark.parametrize("path", SINGLE)
def test_every_calculation_answers_its_example(capsys: pytest.CaptureFixture[str], path: str) -> None:
    entry = calculations()[path]
    out, _ = told(capsys, "calc", entry.topic, entry.name, *as_options(entry.example), "--format", "json")
    answer: Answer = run(path, entry.example)
    given = json.loads(out)
    assert given["question"] == answer.question
    for name, value in own_leaves(answer):
        if "." not in name:
            assert given[name] == value


def test_text_shows_values_warnings_cautions_and_methods(capsys: pytest.CaptureFixture[str]) -> None:
    entry = calculations()["uv/dose"]
    out, _ = told(capsys, "calc", "uv", "dose", *as_options(entry.example))
    answer = run("uv/dose", entry.example)
    assert re.search(rf"(?m)^mean_dose +{re.escape(number(answer.mean_dose, 'down', TABLE_DIGITS))} +mJ/cm2 ", out)
    flat = " ".join(out.split())
    for message in (answer.warnings[0].message, answer.cautions[0].message, answer.basis[0].source):
        assert message in flat
    assert out.index("Warning") < re.search(r"(?m)^mean_dose ", out).start()


def test_long_times_are_shown_in_hours_and_days(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = told(capsys, "calc", "chlorine", "shock", *as_options(calculations()["chlorine/shock"].example))
    assert re.search(r"(?m)^hold_time +24 +h ", out)
    retest = out[out.index("\nretest\n") :].splitlines()[2:4]
    assert "first_sample_after" in retest[0]
    assert " 7 d" in retest[1]
    assert re.search(r"(?m) 60 min\b", out)  # no longer unit holds it twice


def test_pick_prints_the_bare_number_in_the_units_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = told(capsys, *PIPE, "--units", "us", "--pick", "velocity")
    assert float(out) == run("pipe/velocity", {"flow": "9 gal/min", "bore": "20 mm", "units": "us"}).velocity
    out, _ = told(capsys, *PIPE, "--answer-units", "velocity:ft/s", "--answer-units", "bore:in", "--format", "json")
    assert json.loads(out)["units"]["velocity"] == "ft/s"
    assert json.loads(out)["units"]["bore"] == "in"


def test_csv_and_table(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = told(capsys, *PIPE, "--format", "csv")
    rows = {row[0]: row[1:] for row in csv.reader(io.StringIO(out))}
    answer = run("pipe/velocity", {"flow": "9 gal/min", "bore": "20 mm"})
    assert rows["velocity"] == [repr(answer.velocity), "m/s"]
    out, _ = told(capsys, *PIPE, "--format", "table")
    assert json.loads(out)[0]["velocity"] == answer.velocity
    out, _ = told(capsys, *PIPE, "--format", "csv", "--decimal", "comma")
    assert f"velocity;{answer.velocity!r};m/s".replace(".", ",") in out


def test_output_goes_to_a_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    out, _ = told(capsys, *PIPE, "--format", "json", "--output", str(tmp_path / "answer.json"))
    assert out == ""
    assert json.loads((tmp_path / "answer.json").read_text())["regime"] == "turbulent"


def test_names_with_hyphens_or_underscores_and_a_path_with_a_slash(capsys: pytest.CaptureFixture[str]) -> None:
    start = ["calc", "pipe/velocity", "--flow", "9 gpm", "--material", "copper_type_l", "--pick", "bore"]
    assert told(capsys, *start, "--nominal-size", "3/4") == told(capsys, *start, "--nominal_size=3/4")


def test_help_tells_every_input_with_meaning_bounds_and_default(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["calc", "uv", "dose", "--help"])
    assert ended.value.code == 0
    out = " ".join(capsys.readouterr().out.split())
    for part in ("--chamber-bore", "--uvt", "Required.", "Default: 10 degC.", "One of: plug_flow", "Exit status"):
        assert part in out


# Faults


def test_all_faults_at_once_with_how_to_mend_them(capsys: pytest.CaptureFixture[str]) -> None:
    _, err = told(capsys, "calc", "pipe", "velocity", "--flow", "9", "--boer", "20 mm", status=2)
    assert "--flow: '9' has no unit" in err
    assert "--boer: 'boer' is an unknown field. Did you mean 'bore'?" in err
    assert "gal/min" in err


def test_a_fault_in_an_item_names_the_item(capsys: pytest.CaptureFixture[str]) -> None:
    segments = ["--segments", "pipe;length:9 m;material:pex_sdr9;nominal_size:1", "--segments", "pipe;lenth:9 m"]
    _, err = told(capsys, "calc", "pipe", "pressure-drop", "--flow", "9 gpm", *segments, status=2)
    assert "--segments, item 2, lenth: 'lenth' is an unknown field. Did you mean 'length'?" in err


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (["calc"], "usage"),
        (["calc", "pipe", "velocty"], "Did you mean: dosewright calc pipe velocity?"),
        ([*PIPE, "--pick", "velocty"], "'velocity'"),
        ([*PIPE, "--input", "/nowhere/rows.csv"], "/nowhere/rows.csv"),
    ],
)
def test_what_cannot_be_done_is_told_with_status_2(
    capsys: pytest.CaptureFixture[str], arguments: list[str], part: str
) -> None:
    out, err = told(capsys, *arguments, status=2)
    assert part in out + err


@pytest.mark.parametrize("arguments", [[*PIPE, "alone"], [*PIPE, "--format", "pdf"]])
def test_a_line_that_cannot_be_read_ends_with_status_2(arguments: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2


def test_the_list_of_calculations(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = told(capsys, "calc", "--help")
    for path, entry in calculations().items():
        assert path.replace("/", " ") in out
        assert entry.summary in out


# Many rows

ROWS = "place,flow [gal/min],bore,material,nominal_size\nhall,9,20 mm,,\nbath,6,,copper_type_l,3/4\n"


def read(text: str, delimiter: str = ",") -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text), delimiter=delimiter))


def answered(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, rows: str, *options: str, status: int = 0
) -> tuple[str, str]:
    source, target = tmp_path / "rows.csv", tmp_path / "out.csv"
    source.write_text(rows, encoding="utf-8")
    arguments = ["calc", "pipe", "velocity", "--input", str(source), "--output", str(target), *options]
    _, err = told(capsys, *arguments, status=status)
    return target.read_text(encoding="utf-8"), err


def test_columns_named_as_fields(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    plain = ROWS.replace("place,", "").replace("hall,", "").replace("bath,", "")
    text, err = answered(capsys, tmp_path, plain)
    first, second = read(text)
    assert first["flow [gal/min]"] == "9"
    assert float(first["velocity [m/s]"]) == run("pipe/velocity", {"flow": "9 gal/min", "bore": "20 mm"}).velocity
    request = {"flow": "6 gal/min", "material": "copper_type_l", "nominal_size": "3/4"}
    assert float(second["velocity [m/s]"]) == run("pipe/velocity", request).velocity
    assert second["nominal_size"] == second["smallest_nominal_size"] or second["smallest_nominal_size"]
    assert "Caution" in err


def test_a_column_that_is_no_field_is_a_fault(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    source = tmp_path / "rows.csv"
    source.write_text(ROWS)
    _, err = told(capsys, "calc", "pipe", "velocity", "--input", str(source), status=2)
    assert "'place' is an unknown field" in err


def test_units_in_the_second_row(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    text, _ = answered(capsys, tmp_path, "flow,bore\ngal/min,mm\n9,20\n", "--units-row")
    (row,) = read(text)
    assert float(row["velocity [m/s]"]) == run("pipe/velocity", {"flow": "9 gal/min", "bore": "20 mm"}).velocity


def test_options_serve_all_rows_and_a_cell_wins(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    text, _ = answered(capsys, tmp_path, "flow,bore\n9 gpm,\n9 gpm,25 mm\n", "--bore", "20 mm", "--units", "us")
    found = [float(row["velocity [ft/s]"]) for row in read(text)]
    requests = [{"flow": "9 gpm", "bore": bore, "units": "us"} for bore in ("20 mm", "25 mm")]
    assert found == [run("pipe/velocity", request).velocity for request in requests]


def test_rows_at_fault_are_told_and_the_others_answered(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    text, err = answered(capsys, tmp_path, "flow,bore\n9 gpm,20 mm\n9,20 mm\n9 gpm,20 parsec\n", status=1)
    good, *bad = read(text)
    assert good["velocity [m/s]"]
    assert good["error"] == ""
    assert [row["velocity [m/s]"] for row in bad] == ["", ""]
    assert "has no unit" in bad[0]["error"]
    assert "parsec" in bad[1]["error"]
    assert "2 of 3 rows" in err


def test_warnings_stand_in_their_row(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    rows = "flow,material,nominal_size\n3 gpm,copper_type_l,3/4\n30 gpm,copper_type_l,3/4\n"
    slow, fast = read(answered(capsys, tmp_path, rows)[0])
    request = {"flow": "30 gpm", "material": "copper_type_l", "nominal_size": "3/4"}
    assert run("pipe/velocity", request).warnings[0].message in fast["warnings"]
    assert run("pipe/velocity", request).warnings[0].message not in slow["warnings"]


def test_a_list_in_repeated_columns(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    source = tmp_path / "rows.csv"
    pipe = "pipe;length:{} m;material:pex_sdr9;nominal_size:1"
    source.write_text(
        f"flow,segments,segments\n9 gpm,{pipe.format(9)},\n9 gpm,{pipe.format(9)},elevation;elevation_change:2 m\n"
    )
    out, _ = told(capsys, "calc", "pipe", "pressure-drop", "--input", str(source))
    short, long = read(out)
    assert float(long["pressure_drop [kPa]"]) > float(short["pressure_drop [kPa]"]) > 0
    assert short["segments.1.pressure_drop [kPa]"] == ""


def test_a_file_of_a_german_spreadsheet(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    rows = "\ufeffflow [L/min];bore\n34,5;20,5 mm\n"
    text, _ = answered(capsys, tmp_path, rows, "--decimal", "comma")
    (row,) = read(text, ";")
    velocity = run("pipe/velocity", {"flow": "34.5 L/min", "bore": "20.5 mm"}).velocity
    assert float(row["velocity [m/s]"].replace(",", ".")) == velocity
    _, err = told(capsys, "calc", "pipe", "velocity", "--input", str(tmp_path / "rows.csv"), status=2)
    assert "--decimal comma" in err
    (tmp_path / "rows.csv").write_text("flow;bore\n34.5 L/min;20 mm\n")
    options = ["--input", str(tmp_path / "rows.csv"), "--decimal", "comma"]
    assert "comma" in told(capsys, "calc", "pipe", "velocity", *options, status=2)[1]


@pytest.mark.parametrize("rows", ["", "flow,bore\n", "flow,bore\n9 gpm,20 mm,3\n"])
def test_a_file_that_is_no_table(capsys: pytest.CaptureFixture[str], tmp_path: Path, rows: str) -> None:
    (tmp_path / "rows.csv").write_text(rows)
    _, err = told(capsys, "calc", "pipe", "velocity", "--input", str(tmp_path / "rows.csv"), status=2)
    assert "row" in err


def test_rows_as_json_records_and_from_standard_input(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("flow,bore\n9 gpm,20 mm\n"))
    out, _ = told(capsys, "calc", "pipe", "velocity", "--input", "-", "--format", "table")
    assert json.loads(out)[0]["velocity"] == run("pipe/velocity", {"flow": "9 gpm", "bore": "20 mm"}).velocity


def on_a_terminal(tmp_path: Path, rows: int) -> str:
    """Run with standard error at a terminal; return what the terminal shows."""
    source = tmp_path / "rows.csv"
    source.write_text("flow,bore\n" + "9 gpm,20 mm\n" * rows)
    command = [sys.executable, "-m", "dosewright", "calc", "pipe", "velocity", "--input", str(source)]
    ours, theirs = pty.openpty()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=theirs) as process:
        os.close(theirs)
        shown = b""
        while True:
            try:
                piece = os.read(ours, 4096)
            except OSError:  # the terminal's other end is closed
                break
            if not piece:
                break
            shown += piece
        assert process.wait(60) == 0
    os.close(ours)
    return shown.decode()


def test_a_bar_shows_how_far_it_is(tmp_path: Path) -> None:
    shown = on_a_terminal(tmp_path, 5_000)
    steps = [line for line in shown.replace("\n", "\r").split("\r") if "rows" in line]
    assert " 40 %  2,000 of 5,000 rows" in steps[0]
    assert f"[{'#' * 40}] 100 %  5,000 of 5,000 rows" in steps[-1]
    assert steps[0].count("#") < steps[1].count("#")


def test_no_bar_where_nobody_watches(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert "#" not in answered(capsys, tmp_path, "flow,bore\n9 gpm,20 mm\n")[1]


# Completion

TYPED = {
    "dosewright ": "serve",
    "dosewright calc ": "pipe",
    "dosewright calc pipe ": "velocity",
    "dosewright calc pipe velocity --nom": "--nominal-size",
    "dosewright calc pipe velocity --material cop": "copper_type_l",
}


def script(shell: str, tmp_path: Path) -> Path:
    path = tmp_path / "_dosewright"
    ran = subprocess.run([sys.executable, "-m", "dosewright", "completion", shell], capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
    path.write_text(ran.stdout)
    return path


@pytest.mark.parametrize("typed", TYPED)
def test_bash_completes(tmp_path: Path, typed: str) -> None:
    words = " ".join(f"'{word}'" for word in typed.split(" "))
    lines = (
        f"source {script('bash', tmp_path)}",
        f"COMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1))",
        "function_of=$(complete -p dosewright | sed 's/.*-F \\([^ ]*\\).*/\\1/')",
        'compopt() { :; }; "$function_of" dosewright "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD-1]}"',
        'printf "%s\\n" "${COMPREPLY[@]}"',
    )
    ran = subprocess.run([program("bash"), "-c", "\n".join(lines)], capture_output=True, text=True, timeout=30)
    assert TYPED[typed] in ran.stdout.split(), ran.stderr


@pytest.mark.parametrize("typed", TYPED)
def test_fish_completes(tmp_path: Path, typed: str) -> None:
    command = f"source {script('fish', tmp_path)}; complete -C '{typed}'"
    ran = subprocess.run([program("fish", "fish"), "-c", command], capture_output=True, text=True, timeout=30)
    assert TYPED[typed] in [line.split("\t")[0] for line in ran.stdout.splitlines()], ran.stderr


@pytest.mark.parametrize("typed", TYPED)
def test_zsh_completes(tmp_path: Path, typed: str) -> None:
    script("zsh", tmp_path)
    ours, theirs = pty.openpty()
    with subprocess.Popen([program("zsh", "zsh"), "-f", "-i"], stdin=theirs, stdout=theirs, stderr=theirs) as process:
        os.close(theirs)
        os.write(
            ours, f"PS1=; fpath=({tmp_path} $fpath); autoload -U compinit; compinit -D -u; print re''ady\n".encode()
        )
        read_until(ours, "ready")
        os.write(ours, f"{typed}\t\t".encode())
        shown = read_until(ours, TYPED[typed].removeprefix(typed.rpartition(" ")[2]))
        process.kill()
    os.close(ours)
    assert TYPED[typed].removeprefix(typed.rpartition(" ")[2]) in shown


def read_until(terminal: int, wanted: str) -> str:
    """Return what a terminal shows until something is in it, or nothing more comes for some seconds."""
    shown = ""
    while wanted not in shown and select.select([terminal], [], [], 10)[0]:
        shown += os.read(terminal, 4096).decode(errors="replace")
    return shown
