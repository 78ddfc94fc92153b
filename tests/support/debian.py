"""Programs that tests drive for real, brought by apt where root may; elsewhere a test says by name what it lacks."""

import fcntl
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import NoReturn

import pytest

__all__ = ["lack", "nobody_installs", "program", "provide"]


@contextmanager
def nobody_installs() -> Iterator[None]:
    """Keep other workers from installing: apt-get fails beside another, and a program half unpacked does not run."""
    with (Path(tempfile.gettempdir()) / f"dosewright-tests-apt-{os.geteuid()}.lock").open("w") as alone:
        fcntl.flock(alone, fcntl.LOCK_EX)
        yield


@cache
def provide(*packages: str) -> bool:
    """Install Debian packages once a run; False where that cannot be done here."""
    if os.geteuid() != 0 or not shutil.which("apt-get"):
        return False
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    commands = (
        ["apt-get", "update", "-qq"],
        ["apt-get", "install", "-y", "-qq", "--no-install-recommends", "-o", "DPkg::Lock::Timeout=300", *packages],
    )
    with nobody_installs():
        return all(
            subprocess.run(command, env=quiet, capture_output=True, timeout=900).returncode == 0 for command in commands
        )


def lack(what: str) -> NoReturn:
    """Skip for want of a program, by its name; in continuous integration nothing is skipped."""
    if os.environ.get("CI"):
        pytest.fail(f"this test needs {what}")
    pytest.skip(f"this test needs {what}")


def program(name: str, *packages: str, present: Callable[[str], str | None] = shutil.which) -> str:
    """Return the path of a program, installing its packages if need be."""
    with nobody_installs():
        path = present(name)
    path = path or (provide(*packages) and present(name))
    return path or lack(f"{name} (Debian: {' '.join(packages)})")
