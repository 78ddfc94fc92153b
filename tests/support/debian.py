"""Programs that tests drive for real, brought by apt where root may; elsewhere a test says by name what it lacks."""

import os
import shutil
import subprocess
from collections.abc import Callable
from functools import cache
from typing import NoReturn

import pytest

__all__ = ["lack", "program", "provide"]


@cache
def provide(*packages: str) -> bool:
    """Install Debian packages once a run; False where that cannot be done here."""
    if os.geteuid() != 0 or not shutil.which("apt-get"):
        return False
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (
        ["apt-get", "update", "-qq"],
        ["apt-get", "install", "-y", "-qq", "--no-install-recommends", *packages],
    ):
        if subprocess.run(command, env=quiet, capture_output=True, timeout=900).returncode != 0:
            return False
    return True


def lack(what: str) -> NoReturn:
    """Skip for want of a program, by its name; in continuous integration nothing is skipped."""
    if os.environ.get("CI"):
        pytest.fail(f"this test needs {what}")
    pytest.skip(f"this test needs {what}")


def program(name: str, *packages: str, present: Callable[[str], str | None] = shutil.which) -> str:
    """Return the path of a program, installing its packages if need be."""
    path = present(name) or (provide(*packages) and present(name))
    return path or lack(f"{name} (Debian: {' '.join(packages)})")
