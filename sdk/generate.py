"""Writes what follows from the register: the typed calls of the clients, and the OpenAPI document.

For contributors: ``python sdk/generate.py`` from a checkout; ``--check`` only tells whether the files are
current.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path

import msgspec

import dosewright.topics  # noqa: F401 # pyright: ignore[reportUnusedImport] - registers the calculations
from client_source import calls_sources, types_source
from contract_digest import digest, digest_text, pack, unpack

__all__ = ["main"]

_ROOT = Path(__file__).resolve().parents[1]
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

    client = _ROOT / "sdk" / "dosewright_sdk"
    for name, source in calls_sources().items():
        yield client / "_calls" / name, source
    yield client / "types.py", types_source()
    text = msgspec.json.encode(document()).decode()
    yield _ROOT / "openapi" / "openapi.json", text + "\n"


if __name__ == "__main__":
    sys.exit(main())
