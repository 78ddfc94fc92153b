"""The tools of generated clients, installed once a run into a folder of their own."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from commands import run

from debian import lack, program

HERE = Path(__file__).parent


@pytest.fixture(scope="session")
def node_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the TypeScript programs beside their pinned packages."""
    npm = program("npm", "nodejs", "npm")
    folder = tmp_path_factory.mktemp("node")
    for name in ("package.json", "package-lock.json", "tsconfig.json", "openapi_fetch", "hey_api"):
        copy = shutil.copytree if (HERE / name).is_dir() else shutil.copy
        copy(HERE / name, folder / name)
    installing = [npm, "ci", "--no-audit", "--no-fund", "--prefer-offline"]
    if subprocess.run(installing, cwd=folder, capture_output=True, timeout=300).returncode != 0:
        lack("the npm packages of tests/clients/package.json")
    return folder


@pytest.fixture(scope="session")
def python_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the Python program beside an environment with its pinned packages."""
    folder = tmp_path_factory.mktemp("python") / "python_client"
    shutil.copytree(HERE / "python_client", folder)
    run([sys.executable, "-m", "venv", "environment"], folder)
    installing = ["environment/bin/pip", "install", "--quiet", "--disable-pip-version-check", "-r", "requirements.txt"]
    if subprocess.run(installing, cwd=folder, capture_output=True, timeout=300).returncode != 0:
        lack("the packages of tests/clients/python_client/requirements.txt")
    return folder
