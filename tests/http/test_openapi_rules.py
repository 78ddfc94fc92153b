"""The committed OpenAPI document against a linter's recommended rules, every warning an error."""

import os
import subprocess
from pathlib import Path

from debian import program

DOCUMENT = Path(__file__).parents[2] / "openapi" / "openapi.json"
LINTER = "@redocly/cli@2.77.0"


def test_the_document_passes_the_recommended_rules() -> None:
    command = [
        program("npx", "nodejs", "npm"),
        "--yes",
        LINTER,
        "lint",
        "--extends",
        "recommended-strict",
        str(DOCUMENT),
    ]
    quiet = {**os.environ, "REDOCLY_TELEMETRY": "off", "REDOCLY_SUPPRESS_UPDATE_NOTICE": "true"}
    ran = subprocess.run(command, env=quiet, capture_output=True, text=True, timeout=300)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "Your API description is valid" in ran.stdout + ran.stderr
