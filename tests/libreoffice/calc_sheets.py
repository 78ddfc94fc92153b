"""Recalculates spreadsheets in a real, headless LibreOffice Calc.

Formulas are written with English names and ``;`` between arguments, as OpenDocument stores them.
LibreOffice fetches web addresses only for a document it trusts and whose links it may update, so
each run gets a private profile that says so; ``soffice --convert-to`` never fetches them.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import signal
import subprocess
import tempfile
import threading
import uuid
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self
from xml.sax.saxutils import escape, quoteattr

if TYPE_CHECKING:
    from collections.abc import Sequence

READER = Path(__file__).with_name("uno_reader.py")
SPREADSHEET = "application/vnd.oasis.opendocument.spreadsheet"
# OpenDocument files give these functions a vendor prefix; without it they load as unknown names.
PREFIXED = re.compile(r"\b(?<!COM\.MICROSOFT\.)(WEBSERVICE|FILTERXML|ENCODEURL)\(")
ANSWER_SECONDS = 120.0
QUIET = ("--headless", "--norestore", "--nologo", "--nodefault", "--nolockcheck")


@dataclass(frozen=True, slots=True)
class Cell:
    """What one recalculated cell holds."""

    kind: str
    """``number``, ``text``, ``error`` or ``empty``."""
    text: str
    """As a person sees it, in the locale of the office."""
    value: float | None
    """The number, where there is one."""
    error: int
    """LibreOffice's error number, 0 for none."""


def missing_parts() -> list[str]:
    """Name what this machine lacks to recalculate a sheet; empty when nothing."""
    lacking = [] if shutil.which("soffice") else ["soffice (package libreoffice-calc)"]
    if _uno_interpreter() is None:
        lacking.append("a python3 with the uno module (package python3-uno)")
    return lacking


def write_spreadsheet(path: Path, rows: Sequence[Sequence[str | float]]) -> None:
    """Write an OpenDocument spreadsheet; a text that starts with ``=`` is a formula."""
    body = "".join(f"<table:table-row>{''.join(map(_cell_xml, row))}</table:table-row>" for row in rows)
    namespaces = " ".join(
        f'xmlns:{prefix}="urn:oasis:names:tc:opendocument:xmlns:{name}"'
        for prefix, name in (("office", "office:1.0"), ("table", "table:1.0"), ("text", "text:1.0"), ("of", "of:1.2"))
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {namespaces} office:version="1.3">'
        f'<office:body><office:spreadsheet><table:table table:name="Sheet1">{body}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    entries = "".join(
        f'<manifest:file-entry manifest:full-path="{name}" manifest:media-type="{media}"/>'
        for name, media in (("/", SPREADSHEET), ("content.xml", "text/xml"))
    )
    manifest = (
        '<?xml version="1.0" encoding="UTF-8"?><manifest:manifest manifest:version="1.3" '
        f'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">{entries}</manifest:manifest>'
    )
    with zipfile.ZipFile(path, "w") as package:
        package.writestr("mimetype", SPREADSHEET)  # first and uncompressed, by the standard
        package.writestr("content.xml", content)
        package.writestr("META-INF/manifest.xml", manifest)


class Office:
    """One LibreOffice process with a profile of its own, for as long as the ``with`` block lasts."""

    def __init__(self, locale: str = "en-US") -> None:
        self._locale = locale
        self._stack = contextlib.ExitStack()

    def __enter__(self) -> Self:
        """Start the office and the reader that talks to it."""
        with self._stack:
            self._folder = Path(self._stack.enter_context(tempfile.TemporaryDirectory(prefix="calc-sheets-")))
            profile = self._folder / "profile"
            _write_profile(profile, self._locale)
            pipe = f"calc{uuid.uuid4().hex}"
            command = [
                "soffice",
                f"-env:UserInstallation={profile.as_uri()}",
                *QUIET,
                f"--accept=pipe,name={pipe};urp;",
            ]
            office = subprocess.Popen(
                command,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
            self._stack.callback(_stop_group, office)
            self._reader = subprocess.Popen(
                [str(_uno_interpreter()), str(READER), pipe], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
            )
            self._stack.callback(_stop_reader, self._reader)
            self._stack = self._stack.pop_all()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop both and delete the profile."""
        self._stack.close()

    def recalculate(self, rows: Sequence[Sequence[str | float]]) -> list[list[Cell]]:
        """Write these cells to a file, have Calc open and recalculate it, return what each cell then holds."""
        path = self._folder / f"{uuid.uuid4().hex}.ods"
        write_spreadsheet(path, rows)
        answer = self._ask({"document": path.as_uri(), "rows": len(rows), "columns": max(map(len, rows))})
        return [[Cell(**cell) for cell in row] for row in answer]

    def linked(self, url: str, source: str, rows: int, columns: int) -> list[list[Cell]]:
        """Link a new sheet to a table at an address; return its cells. `source` is ``HTML_1`` or ``CSV``."""
        answer = self._ask({"link": url, "source": source, "rows": rows, "columns": columns})
        return [[Cell(**cell) for cell in row] for row in answer]

    def workbook(
        self, path: Path, changes: Sequence[tuple[str, str, str | float]] = (), pdf: Path | None = None
    ) -> dict[str, list[list[Cell]]]:
        """Open a file, set some cells (sheet, address, content), recalculate; return all used cells by sheet."""
        request: dict[str, Any] = {"document": path.as_uri(), "sheets": True, "set": list(changes)}
        if pdf:
            request["pdf"] = pdf.as_uri()
        sheets = self._ask(request)
        return {name: [[Cell(**cell) for cell in row] for row in cells] for name, cells in sheets.items()}

    def _ask(self, request: dict[str, Any]) -> Any:
        assert self._reader.stdin is not None
        assert self._reader.stdout is not None
        self._reader.stdin.write(json.dumps(request) + "\n")
        self._reader.stdin.flush()
        watchdog = threading.Timer(ANSWER_SECONDS, self._reader.kill)
        watchdog.start()
        answer = self._reader.stdout.readline()
        watchdog.cancel()
        if not answer:
            raise RuntimeError(f"LibreOffice's reader stopped with exit code {self._reader.wait(10)}")
        return json.loads(answer)

    def evaluate(self, *formulas: str) -> list[Cell]:
        """Recalculate formulas that need no other cell, one a row, in one document."""
        return [row[0] for row in self.recalculate([[formula] for formula in formulas])]


def _cell_xml(content: str | float) -> str:
    if not isinstance(content, str):
        return f'<table:table-cell office:value-type="float" office:value="{content!r}"/>'
    if content.startswith("="):
        formula = quoteattr("of:" + PREFIXED.sub(r"COM.MICROSOFT.\1(", content))
        return f'<table:table-cell table:formula={formula} office:value-type="string"><text:p/></table:table-cell>'
    return f'<table:table-cell office:value-type="string"><text:p>{escape(content)}</text:p></table:table-cell>'


def _write_profile(folder: Path, locale: str) -> None:
    settings = (
        ("Calc/Content/Update", "Link", "0"),  # update links: always
        ("Calc/Formula/Load", "ODFRecalcMode", "0"),  # recalculate on load: always
        ("Common/Security/Scripting", "SecureURL", "<it>file:///</it>"),  # documents here are trusted
    )
    items = "".join(
        f'<item oor:path="/org.openoffice.Office.{path}"><prop oor:name="{name}" oor:op="fuse">'
        f"<value>{value}</value></prop></item>"
        for path, name, value in settings
    )
    items += "".join(
        f'<item oor:path="/org.openoffice.Setup/{path}"><prop oor:name="{name}" oor:op="fuse">'
        f"<value>{value}</value></prop></item>"
        for path, name, value in (("L10N", "ooSetupSystemLocale", locale), ("Office", "ooSetupInstCompleted", "true"))
    )
    (folder / "user").mkdir(parents=True)
    (folder / "user" / "registrymodifications.xcu").write_text(
        '<?xml version="1.0" encoding="UTF-8"?><oor:items xmlns:oor="http://openoffice.org/2001/registry" '
        'xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">'
        f"{items}</oor:items>",
        encoding="utf-8",
    )


def _uno_interpreter() -> str | None:
    """Return the first python3 on the path that has the uno module; a virtual environment's rarely does."""
    for folder in (*os.environ.get("PATH", "").split(os.pathsep), "/usr/bin"):
        candidate = Path(folder) / "python3"
        if os.access(candidate, os.X_OK):
            probe = subprocess.run([candidate, "-c", "import uno"], stderr=subprocess.DEVNULL)
            if probe.returncode == 0:
                return str(candidate)
    return None


def _stop_reader(reader: subprocess.Popen[str]) -> None:
    assert reader.stdin is not None
    assert reader.stdout is not None
    reader.terminate()
    reader.wait(10)
    with contextlib.suppress(BrokenPipeError):
        reader.stdin.close()
    reader.stdout.close()


def _stop_group(process: subprocess.Popen[bytes]) -> None:
    """Stop soffice and the child that does the work: the launcher alone would leave it behind."""
    for sent in (signal.SIGTERM, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, sent)
        try:
            process.wait(15)
        except subprocess.TimeoutExpired:
            continue
        return
