"""Writes what follows from the register: the typed calls of the clients, and the OpenAPI document.

For contributors: ``python sdk/generate.py`` from a checkout; ``--check`` only checks whether the files are
current.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

import dosewright.topics  # noqa: F401 # pyright: ignore[reportUnusedImport] - registers the calculations
import table_names
from client_source import calls_sources, types_source
from contract_digest import digest, digest_text, pack, unpack

__all__ = ["main"]

_ROOT = Path(__file__).resolve().parents[1]
# What is spread over lines: of the document, and of its components.
_SPREAD = ({"paths", "components"}, {"schemas", "responses", "parameters", "headers"})
_RELEASED = _ROOT / "openapi" / "released.json"


def main() -> int:
    """Write the files, or compare them; returns the exit status."""
    parser = argparse.ArgumentParser(prog="python sdk/generate.py", description=__doc__)
    parser.add_argument("--check", action="store_true", help="write nothing; fail if a file is not current")
    parser.add_argument("--release", action="store_true", help="keep the document's digest as the released contract")
    parser.add_argument("--released", action="store_true", help="print the released contract's digest, and no more")
    arguments = parser.parse_args()
    only_check = arguments.check
    if arguments.release:
        document = json.loads((_ROOT / "openapi" / "openapi.json").read_bytes())
        _RELEASED.write_text(pack(digest(document)), encoding="utf-8")
    if arguments.released:
        print(digest_text(unpack(_RELEASED.read_text(encoding="utf-8"))), end="")
        return 0
    files = list(_files())
    stale = [path for path, text in files if not path.exists() or path.read_text(encoding="utf-8") != text]
    if not only_check:
        for path, text in files:
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
    for path in stale:
        print(f"{'stale' if only_check else 'written'}: {path.relative_to(_ROOT)}")
    return 1 if stale and only_check else 0


def _files() -> Iterator[tuple[Path, str]]:
    from dosewright.http.openapi.document import document  # noqa: PLC0415 - only contributors need the server extra

    yield table_names.PATH, table_names.names_source()
    client = _ROOT / "sdk" / "dosewright_sdk"
    for name, source in calls_sources().items():
        yield client / "_calls" / name, source
    yield client / "types.py", types_source()
    yield _ROOT / "openapi" / "openapi.json", _by_lines(document()) + "\n"


def _by_lines(part: dict[str, Any], depth: int = 0) -> str:
    """Return JSON with one line for each path and each component, so that a change of one is seen as such."""
    lines: list[str] = []
    for name, value in part.items():
        deeper = name in _SPREAD[depth] if depth < len(_SPREAD) else False
        texts = _by_lines(value, depth + 1) if deeper else msgspec.json.encode(value).decode()
        lines.append(f"{msgspec.json.encode(name).decode()}:{texts}")
    return "{\n" + ",\n".join(lines) + "\n}"


if __name__ == "__main__":
    sys.exit(main())
