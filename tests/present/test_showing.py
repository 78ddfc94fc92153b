"""How answers show themselves: text, notebook, plain data, CSV, data frames."""

from __future__ import annotations

import csv
import importlib.util
import io
import json
import subprocess
import sys
from html.parser import HTMLParser
from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np
import pytest

from asgi import post
from debian import lack
from dosewright.engine.base import Answer, Warn
from dosewright.engine.registry import calculations
from dosewright.present.rounding import TABLE_DIGITS, number
from dosewright_sdk import InProcess

if TYPE_CHECKING:
    from pathlib import Path

LINE = {"flow": "9 gal/min", "bore": "20 mm"}
FLOWS = {"flow": ["6 gal/min", "nonsense", "9 gal/min"], "bore": "20 mm"}
VESSELS = [
    {"kind": "drilled_casing", "diameter": "6 in", "water_column": "120 ft"},
    {"kind": "water_heater", "volume": "40 gal"},
]
BLEACH = {"kind": "liquid", "sodium_hypochlorite": "6 %"}


@pytest.fixture(scope="module")
def chlorination() -> Answer:
    return InProcess().chlorine.shock(vessels=VESSELS, product=BLEACH, free_chlorine="100 mg/L", units="us")


def needed(package: str) -> None:
    """Skip where a package of the test extra is not installed; in continuous integration, fail."""
    if importlib.util.find_spec(package) is None:
        lack(package)


def lines_of(text: str) -> dict[str, str]:
    """Return each line of a text table under its first word."""
    return {line.split()[0]: line for line in text.splitlines() if line.strip()}


def test_a_text_shows_value_unit_and_meaning_of_each_field() -> None:
    answer = InProcess().pipe.velocity(**LINE, units="us")
    line = lines_of(str(answer))["velocity"].split()
    assert line[1] == number(answer.velocity, "up", TABLE_DIGITS)  # a slower flow would look safer
    assert line[2] == "ft/s"
    assert len(line) > 3
    assert lines_of(str(answer))["within_limit"].split()[1] in {"yes", "no"}


def test_warnings_and_cautions_come_whole_and_before_the_numbers(chlorination: Answer) -> None:
    told = " ".join(str(chlorination).split())
    assert chlorination.warnings
    assert chlorination.cautions
    numbers = told.index("value unit meaning")
    for entry in [*chlorination.warnings, *chlorination.cautions]:
        assert -1 < told.find(entry.message) < numbers
    assert told.count("! Warning:") == len(chlorination.warnings)
    assert told.count("* Caution:") == len(chlorination.cautions)


def test_items_are_a_table_of_their_own_with_units(chlorination: Any) -> None:
    lines = str(chlorination).splitlines()
    start = lines.index("vessels")
    assert lines[start + 1].split() == ["kind", "volume", "[gal]"]
    for vessel, line in zip(chlorination.vessels, lines[start + 2 :], strict=False):
        kind, volume = line.split()
        assert (kind, float(volume)) == (vessel.kind, pytest.approx(vessel.volume, rel=5e-4))


def test_a_text_tells_sources_defaults_and_version(chlorination: Answer) -> None:
    told = " ".join(str(chlorination).split())
    assert all(" ".join(basis.source.split()) in told for basis in chlorination.basis)
    assert all(f"{name} {value}" in told for name, value in chlorination.defaults.items())
    assert f"Dosewright {chlorination.version}" in told


def test_a_batch_shows_rows_units_and_faults() -> None:
    batch = InProcess().pipe.velocity_batch(**FLOWS)
    text = str(batch)
    assert "3 rows, 1 with errors" in text
    assert "(row 1)" in text
    assert "velocity [m/s]" in text
    rows = [line.split() for line in text.splitlines() if line[:4] in {"  0 ", "  1 ", "  2 "}]
    assert [row[1] for row in rows[:3]] == [f"{batch['velocity'][0]:.6g}", "–", f"{batch['velocity'][2]:.6g}"]
    for name in batch.columns:
        assert f"{name}" in text


def test_a_long_batch_shows_its_beginning_and_how_many_more() -> None:
    batch = InProcess().pipe.velocity_batch(flow={"value": list(range(1, 101)), "unit": "L/min"}, bore="20 mm")
    assert "and 80 rows more" in str(batch)
    assert "and 80 rows more" in batch._repr_html_()
    assert all(len(line) <= 140 for line in str(batch).splitlines())


@pytest.mark.parametrize("path", list(calculations()))
def test_every_answer_shows_itself(path: str) -> None:
    entry = calculations()[path]
    answer = InProcess().single(path, entry.answer, entry.example)
    text, markup = str(answer), answer._repr_html_()
    for caution in answer.cautions:
        assert caution.message in " ".join(text.split())
    well_formed(markup)
    assert json.loads(json.dumps(answer.to_dict())) == json.loads(msgspec.json.encode(answer))


class _Balanced(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        del attrs
        self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def well_formed(markup: str) -> str:
    parser = _Balanced()
    parser.feed(markup)
    parser.close()
    assert parser.open == []
    return "".join(parser.text)


@pytest.mark.parametrize("path", list(calculations()))
def test_no_answer_is_wider_than_a_terminal(path: str) -> None:
    topic, name = path.replace("-", "_").split("/")
    text = str(getattr(getattr(InProcess(), topic), name)(**calculations()[path].example))
    # An address is one word, and is copied whole.
    assert [line for line in text.splitlines() if len(line) > 100 and "/v1/" not in line] == []
    assert "{'" not in text


def test_a_drawing_is_told_by_its_length_and_words_wrap_whole() -> None:
    answer = InProcess().site.clearance(**calculations()["site/clearance"].example)
    assert answer.drawing is not None
    text = str(answer)
    assert "<svg" not in text
    assert f"({len(answer.drawing)} characters)" in text
    assert all(mounting.mounting in text for mounting in answer.mountings)


def test_markup_escapes_what_it_is_given() -> None:
    answer = InProcess().pipe.velocity(**LINE)
    answer.warnings = [Warn(code="x", field="flow", message="<script>alert('x')</script>")]
    markup = answer._repr_html_()
    assert "<script" not in markup
    assert "<script>alert('x')</script>" in well_formed(markup)


def test_ipython_shows_the_table_in_a_terminal_and_in_a_notebook() -> None:
    needed("IPython")
    source = (
        "import json\n"
        "from IPython.core.interactiveshell import InteractiveShell\n"
        "from dosewright_sdk import InProcess\n"
        "pipe = InProcess().pipe\n"
        f"shown = [pipe.velocity(**{LINE!r}), pipe.velocity_batch(**{FLOWS!r})]\n"
        "shell = InteractiveShell()\n"
        "shell.display_formatter.active_types = list(shell.display_formatter.formatters)\n"
        "print(json.dumps([[shell.display_formatter.format(one)[0], str(one), one._repr_html_()] for one in shown]))\n"
    )
    ran = subprocess.run([sys.executable, "-c", source], capture_output=True, text=True, timeout=60)
    assert ran.returncode == 0, ran.stderr
    for bundle, text, markup in json.loads(ran.stdout.splitlines()[-1]):
        assert bundle["text/plain"] == text
        assert bundle["text/html"] == markup
        assert "<table>" in markup


def test_csv_is_what_the_service_gives(tmp_path: Path) -> None:
    answer = InProcess().pipe.velocity(**LINE)
    batch = InProcess().pipe.velocity_batch(**FLOWS)
    given = post("/v1/pipe/velocity?format=csv", LINE)
    assert answer.to_csv().encode() == given.body
    given = post("/v1/pipe/velocity/batch?format=csv", FLOWS)
    assert batch.to_csv(tmp_path / "rows.csv").encode() == given.body == (tmp_path / "rows.csv").read_bytes()
    rows = list(csv.DictReader(io.StringIO(batch.to_csv())))
    assert float(rows[0]["velocity [m/s]"]) == batch["velocity"][0]
    assert "," in answer.to_csv(decimal_comma=True).splitlines()[1].split(";")[1]


@pytest.mark.parametrize("library", ["pandas", "polars"])
def test_a_frame_of_a_batch_holds_its_columns(library: Any) -> None:
    needed(library)
    batch = InProcess().pipe.velocity_batch(**FLOWS)
    frame = batch.to_frame(library)
    assert type(frame).__module__.startswith(library)
    assert list(frame.columns) == [*batch.columns, "warnings", "error"]
    assert len(frame) == 3
    velocity = frame["velocity"].to_numpy()
    assert np.array_equal(np.asarray(velocity, float), batch["velocity"], equal_nan=True)
    assert "nonsense" in frame["error"][1]
    assert next(iter(frame["regime"])) == "turbulent"


@pytest.mark.parametrize("library", ["pandas", "polars"])
def test_a_frame_of_an_answer_is_one_row(chlorination: Any, library: Any) -> None:
    needed(library)
    frame = chlorination.to_frame(library)
    assert len(frame) == 1
    assert frame["volume"][0] == chlorination.volume
    assert frame["vessels.1.volume"][0] == chlorination.vessels[1].volume
    if library == "pandas":
        assert frame.attrs["units"] == chlorination.units
        assert len(frame.attrs["cautions"]) == len(chlorination.cautions)


def test_without_a_frame_library_the_error_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    answer = InProcess().pipe.velocity(**LINE)
    monkeypatch.setitem(sys.modules, "pandas", None)
    monkeypatch.setitem(sys.modules, "polars", None)
    for wanted, told in ((None, "pip install pandas"), ("polars", "pip install polars")):
        with pytest.raises(ModuleNotFoundError, match=told):
            answer.to_frame(wanted)


def test_an_answer_holds_no_more_than_its_fields() -> None:
    assert not hasattr(InProcess().pipe.velocity(**LINE), "__dict__")
    assert not hasattr(InProcess().pipe.velocity_batch(**LINE), "__dict__")


def test_importing_the_client_loads_no_frame_library() -> None:
    source = "import sys, dosewright_sdk; print(sorted({'pandas', 'polars', 'IPython'} & set(sys.modules)))"
    ran = subprocess.run([sys.executable, "-c", source], capture_output=True, text=True, timeout=60)
    assert ran.stdout.strip() == "[]"
