"""The walk that DEVELOPERS.md takes a contributor through, done as it is written there."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

import pytest

from asgi import send
from client_source import calls_sources
from dosewright.engine import registry
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.http.app import create_app
from dosewright.http.openapi.document import document
from dosewright_sdk import InProcess
from walk import PATH, Step, apply, changed_files, copy_of_checkout, git, listed_files, steps

if TYPE_CHECKING:
    from collections.abc import Iterator

# pi/4 (20 mm)^2 12 m in litres, worked out by hand.
LITRES = 3.7699111843077517


def modules() -> list[tuple[str, str]]:
    """Return name and source of each module of the walk, in the order in which they are written."""
    blocks = [step for step in steps() if step.how == "new" and step.path.startswith("api/")]
    found = [(step, step.path.removeprefix("api/").removesuffix(".py")) for step in blocks if step.language == "python"]
    return [(name.replace("/", "."), step.text) for step, name in found]


@pytest.fixture
def walked() -> Iterator[None]:
    """Run the walk's blocks, each as the module it is meant for, and leave nothing behind."""
    assert PATH not in calculations()
    blocks = modules()
    assert len(blocks) == 3
    try:
        for name, block in blocks:
            module = ModuleType(name)
            sys.modules[name] = module
            exec(compile(block, f"DEVELOPERS.md: {name}", "exec"), module.__dict__)  # noqa: S102 - our own text
        yield
    finally:
        registry._REGISTER.pop(PATH, None)
        for name, _ in blocks:
            sys.modules.pop(name, None)
    assert PATH not in calculations()


def generated_calls() -> Any:
    """Return the client's calls of the topic as the generator writes them now, as a module."""
    source = calls_sources()["pipe.py"]
    module = ModuleType("generated_calls")
    exec(compile(source, "generated_calls", "exec"), module.__dict__)  # noqa: S102 - our own generator
    return module


@pytest.mark.usefixtures("walked")
def test_the_walk_leads_to_a_whole_calculation() -> None:
    example = dict(calculations()[PATH].example)
    assert run(PATH, example).contents == pytest.approx(LITRES, rel=1e-14)
    assert run(PATH, {"bore": "2 cm", "length": "12 m", "units": "si"}).contents == pytest.approx(
        LITRES / 1000, rel=1e-14
    )

    batch = run_batch(PATH, {"bore": "20 mm", "length": ["12 m", "24 m", "1 mm", "x"]})
    assert batch["contents"][:2].tolist() == [
        run(PATH, example).contents,
        run(PATH, {**example, "length": "24 m"}).contents,
    ]
    assert [(fault.code, fault.rows) for fault in batch.errors] == [("number_unreadable", [3]), ("too_short", [2])]

    with pytest.raises(RequestRefused) as caught:
        run(PATH, {"bore": "3 m", "length": "1 mm", "lenght": "1 m"})
    assert {fault.code for fault in caught.value.faults} == {"out_of_range", "unknown_field"}
    with pytest.raises(RequestRefused) as caught:
        run(PATH, {"bore": "1 m", "length": "1 mm"})
    assert [fault.code for fault in caught.value.faults] == ["too_short"]


@pytest.mark.usefixtures("walked")
def test_the_walk_leads_to_routes() -> None:
    service = create_app()
    example = dict(calculations()[PATH].example)
    got = send("GET", f"/v1/{PATH}?bore=20%20mm&length=12%20m", service=service)
    body, media = json.dumps(example).encode(), {"content-type": "application/json"}
    posted = send("POST", f"/v1/{PATH}", [body], media, service=service)
    assert got.status == posted.status == 200
    assert got.body == posted.body
    assert got.json()["contents"] == pytest.approx(LITRES, rel=1e-14)
    assert got.json()["question"] == f"/v1/{PATH}?bore=20%20mm&length=12%20m"
    picked = send("GET", f"/v1/{PATH}?bore=20%20mm&length=12%20m&pick=contents", service=service)
    assert picked.body.decode() == repr(got.json()["contents"])
    batch = send(
        "POST", f"/v1/{PATH}/batch", [json.dumps({**example, "length": ["12 m"]}).encode()], media, service=service
    )
    assert batch.json()["columns"]["contents"] == [got.json()["contents"]]


@pytest.mark.usefixtures("walked")
def test_the_walk_leads_to_the_document_and_the_client() -> None:
    operation = document()["paths"][f"/v1/{PATH}"]["post"]
    assert operation["operationId"] == "pipe_contents"
    assert operation["description"] == "Volume of water in a straight round pipe."
    bore = document()["components"]["schemas"]["PipeContentsRequest"]["properties"]["bore"]
    assert bore["description"] == "Inside diameter. Allowed: above 0 mm and at most 2 m."
    assert bore["examples"] == ["20 mm"]

    calls = generated_calls()
    pipe = calls.PipeCalls(InProcess())
    answer = pipe.contents(bore="20 mm", length="12 m")
    assert answer.contents == pytest.approx(LITRES, rel=1e-14)
    assert answer.units == {"contents": "L"}
    assert pipe.contents_batch(bore="20 mm", length=["12 m"])["contents"].tolist() == [answer.contents]
    assert "Water in a straight pipe." in calls.AsyncPipeCalls.contents.__doc__


def test_nothing_of_the_walk_is_left_behind() -> None:
    assert PATH not in calculations()
    assert f"/v1/{PATH}" not in document()["paths"]


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Do the whole walk in a copy of the checkout."""
    root = copy_of_checkout(tmp_path_factory.mktemp("checkout"))
    for step in steps():
        apply(step, root)
    ran = in_checkout(root, sys.executable, "sdk/generate.py")
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return root


def in_checkout(root: Path, *command: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": f"{root / 'api'}:{root / 'sdk'}"}
    return subprocess.run(command, cwd=root, env=environment, capture_output=True, text=True, timeout=300)


def pytest_in(root: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return in_checkout(root, sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-n0", *arguments)


def test_the_walk_lists_every_file_that_it_changes(checkout: Path) -> None:
    changed = changed_files(checkout)
    assert changed == listed_files()
    written = {step.path for step in steps()}
    assert sorted(written) == [name for name in changed if name in written]


def test_the_walk_touches_one_topic_and_what_describes_it(checkout: Path) -> None:
    """No code that serves every calculation changes: outside the topic there are core, data, texts, tests."""
    generated = {"openapi/openapi.json", "sdk/dosewright_sdk/_calls/pipe.py", "sdk/dosewright_sdk/types.py"}
    own = ("api/dosewright/topics/pipe/", "api/dosewright/core/", "api/dosewright/tables/checks/", "tests/topics/pipe/")
    changed = set(changed_files(checkout))
    assert generated < changed
    assert {name for name in changed - generated if not name.startswith(own)} == {"README.md", "CHANGELOG.md"}


TESTS_OF_THE_WALK = (
    "tests/topics/pipe/test_pipe_contents.py",
    "tests/project/test_nothing_is_forgotten.py",
    "tests/core/test_sources.py",
    "tests/engine/test_safe_direction.py",
    "tests/http/test_method_sheets.py",
)


def test_what_the_walk_writes_passes_the_checks(checkout: Path) -> None:
    tools = Path(sys.executable).parent
    written = [step.path for step in steps() if step.path.endswith(".py")]
    commands = (
        [str(tools / "ruff"), "check", "--no-cache", *written],
        [str(tools / "ruff"), "format", "--no-cache", "--check", *written],
        [str(tools / "lint-imports"), "--no-cache"],
        [str(tools / "pyright"), "--pythonpath", sys.executable, *written],
        [sys.executable, "sdk/generate.py", "--check"],
    )
    for command in commands:
        ran = in_checkout(checkout, *command)
        assert ran.returncode == 0, ran.stdout + ran.stderr
    ran = pytest_in(checkout, "-vv", *TESTS_OF_THE_WALK, "-k", "contents or straight_pipe")
    assert ran.returncode == 0, ran.stdout
    assert [file for file in TESTS_OF_THE_WALK if f"{file}::" not in ran.stdout] == []
    verified = in_checkout(checkout, sys.executable, "-m", "dosewright", "verify", "pipe")
    assert verified.returncode == 0, verified.stdout
    assert PATH in verified.stdout


FORGOTTEN = {
    "api/dosewright/topics/pipe/methods/contents.toml": "pipe/contents has no method sheet: write its equations and "
    "symbols in api/dosewright/topics/pipe/methods/contents.toml",
    "api/dosewright/tables/checks/pipe.csv": "pipe/contents has no check value: add a row with the target "
    "pipe/contents and its source to api/dosewright/tables/checks/pipe.csv; if nothing is published, add the reason",
    "tests/topics/pipe/test_pipe_contents.py": "pipe/contents has no test: write its properties in "
    "tests/topics/pipe/test_pipe_contents.py",
    "README.md": "pipe/contents has no row in the README: add | `pipe/contents` | what it answers | to the table "
    "below '## The calculations' in README.md",
    "CHANGELOG.md": "pipe/contents is new and has no line in the changelog: add a line that names `pipe/contents` "
    "below '### Added' of the first section of CHANGELOG.md",
}


def test_what_is_forgotten_is_told(checkout: Path) -> None:
    """Each of them is left out; one run tells all, each once, and nothing else."""
    with ExitStack() as left_out:
        for step in steps():
            if step.path in FORGOTTEN:
                left_out.enter_context(without(checkout, step))
        ran = pytest_in(checkout, "tests/project/test_nothing_is_forgotten.py", "-k", PATH)
    assert ran.returncode == 1, ran.stdout
    # Each once: with CI set, pytest repeats the lines of a message in its summary.
    told = list(dict.fromkeys(line for line in ran.stdout.splitlines() if line.startswith(f"{PATH} ")))
    assert len(told) == len(FORGOTTEN), told
    for message in FORGOTTEN.values():
        assert [line.startswith(message) for line in told].count(True) == 1, (message, told)


def test_nothing_is_told_of_a_calculation_that_has_all(checkout: Path) -> None:
    ran = pytest_in(checkout, "tests/project/test_nothing_is_forgotten.py", "-k", PATH)
    assert "1 passed" in ran.stdout, ran.stdout


@pytest.mark.parametrize("path", ["openapi/openapi.json", "sdk/dosewright_sdk/_calls/pipe.py"])
def test_a_generated_file_that_is_forgotten_is_told(checkout: Path, path: str) -> None:
    walked = (checkout / path).read_bytes()
    (checkout / path).write_text(git(checkout, "show", f"HEAD:{path}"), encoding="utf-8")
    ran = in_checkout(checkout, sys.executable, "sdk/generate.py", "--check")
    (checkout / path).write_bytes(walked)
    assert ran.returncode == 1
    assert ran.stdout.splitlines() == [f"stale: {path}"]


MISPLACED = {
    "api/dosewright/core/root.py": "dosewright.engine.run",
    "api/dosewright/topics/uv/limits.py": "dosewright.topics.site.scale",
    "api/dosewright/engine/fields/field.py": "dosewright.engine.fields.day",
}
CONTRACTS = {
    "Each layer imports only from those below it",
    "Each topic imports only from those below it",
    "No package has a cycle among its modules",
}


def test_an_import_in_the_wrong_direction_is_told(checkout: Path) -> None:
    """One import against the layers, one against the order of topics and one that closes a cycle."""
    with ExitStack() as changed:
        for path, module in MISPLACED.items():
            file = checkout / path
            changed.callback(file.write_bytes, file.read_bytes())
            file.write_text(
                f"{file.read_text('utf-8')}\n\ndef _late() -> None:\n    import {module}\n", encoding="utf-8"
            )
        ran = in_checkout(checkout, str(Path(sys.executable).parent / "lint-imports"), "--no-cache")
    assert ran.returncode == 1
    broken = {line.removesuffix(" BROKEN") for line in ran.stdout.splitlines() if line.endswith(" BROKEN")}
    assert broken >= CONTRACTS


@contextmanager
def without(root: Path, step: Step) -> Iterator[None]:
    """Undo one step of the walk for a while."""
    file = root / step.path
    walked = file.read_bytes()
    if step.how == "new":
        file.unlink()
    else:
        file.write_text(git(root, "show", f"HEAD:{step.path}"), encoding="utf-8")
    try:
        yield
    finally:
        file.write_bytes(walked)
