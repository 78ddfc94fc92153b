"""The walk "Adding a calculation" of DEVELOPERS.md: the files it lists, and its steps in a copy of the checkout."""

from __future__ import annotations

import re
import shutil
import subprocess
import textwrap
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
PATH = "pipe/contents"
_STEP = re.compile(
    r"^ *`(?P<path>[\w./]+)`, (?P<how>new|at its end|line for line|below ``(?P<anchor>[^\n]+)``):\n\n"
    r" *```(?P<language>\w+)\n(?P<text>.*?)^ *```$",
    re.DOTALL | re.MULTILINE,
)


class Step(NamedTuple):
    """One file that the walk writes or changes."""

    path: str
    how: str
    anchor: str | None
    language: str
    text: str


def section() -> str:
    """Return the text of the walk."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    start = text.index("## Adding a calculation")
    return text[start : text.index("\n## ", start)]


def steps() -> list[Step]:
    """Return the steps in order."""
    found = _STEP.finditer(section())
    return [
        Step(one["path"], one["how"], one["anchor"], one["language"], textwrap.dedent(one["text"])) for one in found
    ]


def listed_files() -> list[str]:
    """Return the files of the table at the head of the walk."""
    rows = re.findall(r"^\| (`.+?) \|", section().partition("\n1. ")[0], re.MULTILINE)
    return sorted(name for row in rows for name in re.findall(r"`([\w./]+)`", row))


def apply(step: Step, root: Path) -> None:
    """Do one step in a checkout."""
    file = root / step.path
    if step.how == "new":
        assert not file.exists(), f"{step.path} is new in the walk, but it exists"
        file.write_text(step.text, encoding="utf-8")
        return
    text = file.read_text(encoding="utf-8")
    if step.how == "at its end":
        text += step.text
    elif step.how == "line for line":
        lines = step.text.splitlines()
        for old, new in zip(lines[::2], lines[1::2], strict=True):
            assert (old[0], new[0]) == ("-", "+"), "a line that goes, then the line in its place"
            assert text.splitlines().count(old[1:]) == 1, f"DEVELOPERS.md: {step.path} holds no line {old[1:]!r}"
            text = text.replace(f"{old[1:]}\n", f"{new[1:]}\n")
    else:
        lines = text.splitlines(keepends=True)
        assert step.anchor is not None
        place = next((at for at, line in enumerate(lines) if line.startswith(step.anchor)), None)
        assert place is not None, f"DEVELOPERS.md: no line of {step.path} starts with {step.anchor!r}"
        text = "".join([*lines[: place + 1], step.text, *lines[place + 1 :]])
    file.write_text(text, encoding="utf-8")


def copy_of_checkout(to: Path) -> Path:
    """Return a copy of the files that git knows or would add, committed as they are now."""
    kept = git(ROOT, "ls-files", "--cached", "--others", "--exclude-standard", "-z").split("\0")
    for name in sorted(set(kept)):
        if name and (ROOT / name).is_file():
            (to / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, to / name)
    git(to, "init", "-q")
    commit(to)
    return to


def commit(root: Path) -> None:
    """Commit everything in a copy."""
    git(root, "add", "-A")
    git(root, "-c", "user.name=walk", "-c", "user.email=walk@localhost", "commit", "-q", "-m", "Walk")


def changed_files(root: Path) -> list[str]:
    """Return the files that differ from the last commit, new ones too."""
    return sorted(line[3:] for line in git(root, "status", "--porcelain", "-uall").splitlines())


def git(root: Path, *arguments: str) -> str:
    """Run git and return what it prints."""
    ran = subprocess.run(["git", *arguments], cwd=root, capture_output=True, text=True, check=True)
    return ran.stdout
