"""The commands that run a calculation from a file, as its registration says."""

import argparse
import datetime as dt
import json
import re
import sys
import tomllib
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any, TypeAlias, cast

from dosewright.cli import source_lines
from dosewright.cli.template import schema, template
from dosewright.engine.faults import Fault, RequestRefused
from dosewright.engine.registry import Calculation, Command, calculations
from dosewright.engine.run import run
from dosewright.engine.sentences import capitalised
from dosewright.http.formats import FORMATS, View
from dosewright.http.problems import ProblemError
from dosewright.present.text import wrapped

__all__ = ["add_commands"]

_USAGE = 2
_Entry: TypeAlias = Calculation[Any, Any]


# The messages of both readers, reworded as what to fix.
_FIXES = (
    ("Cannot overwrite a value", "This name was given twice. Keep one."),
    ("Cannot mutate immutable", "This name was given twice. Keep one."),
    ("Cannot declare", "This table was given twice. Put its lines together under one heading."),
    ("Illegal character '\\n'", "The closing quote is missing on this line."),
    ("Expected '=' after a key", "Write a name, an equals sign and a value. Put text in quotes."),
    ("Expected newline", "Remove what follows the value. Put text in quotes. Write a day as year-month-day."),
    ("Invalid value", "Expected a number, true, false, a day, a list, or text in quotes."),
    ("Expecting ',' delimiter", "A comma is missing before this."),
    ("Extra data", "Remove the text after the closing brace."),
    ("Expecting property name", "Expected a name in double quotes, and no comma before a closing brace."),
)


class _FileRefusedError(ValueError):
    """Raised when a file contains no request."""

    def __init__(self, message: str, line: int | None = None) -> None:
        super().__init__(message)
        self.line = line


def add_commands(commands: Any) -> None:
    """Add the command of each calculation that has one."""
    for entry in calculations().values():
        if entry.views.command:
            _add(commands, entry, entry.views.command)


def _add(commands: Any, entry: _Entry, command: Command) -> None:
    does = f"{capitalised(command.summary)}; faults are reported with their line."
    parser = commands.add_parser(command.name, help=command.summary, description=does)
    source = parser.add_mutually_exclusive_group(required=True)
    source.add_argument(
        "file", nargs="?", metavar="FILE", help="file with the request; .json is read as JSON, any other as TOML"
    )
    source.add_argument("--scenario", choices=_names(command), help="use an invented example instead of a file")
    source.add_argument("--template", metavar="FILE", help="write a commented file to start from; - prints it")
    source.add_argument("--schema", action="store_true", help="print the JSON Schema of the file, for editors")
    for form, what in (("pdf", "a page to print"), ("html", "a page to read"), ("json", "the whole answer")):
        parser.add_argument(f"--{form}", metavar="FILE", help=f"write {what}; - is standard output")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="paper of the PDF (default: a4)")
    parser.set_defaults(run=partial(_run, entry, command))


def _names(command: Command) -> list[str]:
    return sorted(file.name.removesuffix(".toml") for file in command.examples.iterdir() if file.name.endswith(".toml"))


def _run(entry: _Entry, command: Command, chosen: argparse.Namespace) -> int:
    if chosen.schema:
        sys.stdout.write(schema(entry))
        return 0
    if chosen.template:
        _write(template(entry).encode(), chosen.template)
        return 0
    name = chosen.file or f"{chosen.scenario}.toml"
    try:
        source = Path(chosen.file) if chosen.file else command.examples / name
        text = source.read_text(encoding="utf-8-sig")
        answer = _answered(entry, text, name)
        if answer is None:
            return _USAGE
        outputs = {form: getattr(chosen, form) for form in ("pdf", "html", "json") if getattr(chosen, form)}
        for form, target in outputs.items():
            _write(FORMATS[form].render(answer, View(paper=chosen.paper)), target)
    except ProblemError as problem:
        return _refused(f"dosewright {command.name}: {problem.problem.detail}")
    except _FileRefusedError as error:
        _print_error(f"{name}:{error.line or 1}: {error}")
        return _USAGE
    except UnicodeDecodeError:
        return _refused(f"dosewright {command.name} {name}: The file is not text in UTF-8.")
    except OSError as error:
        return _refused(f"dosewright {command.name}: {_failed(error, name)}")
    if "-" not in outputs.values():
        print("\n".join(wrapped(line, "    ") for line in command.shown(answer)))
    return 0


def _refused(message: str) -> int:
    print(message, file=sys.stderr)
    return _USAGE


def _failed(error: OSError, name: str) -> str:
    """Return which file cannot be read or written, and why, in words."""
    act = "read" if error.filename in {None, name} else "write"
    reason = (
        "no such file" if isinstance(error, FileNotFoundError) and act == "read" else (error.strerror or "").lower()
    )
    return f"cannot {act} {error.filename or name}: {reason or 'input or output error'}"


def _answered(entry: _Entry, text: str, name: str) -> Any:
    toml = not name.lower().endswith(".json")
    request = _read(text, toml=toml)
    # The JSON reader silently keeps the last of two; the TOML reader rejects them.
    repeated = [] if toml else source_lines.places(text, toml=False).repeated
    if repeated:
        place, line = repeated[0]
        raise _FileRefusedError(f"{place[-1]} was given twice. Keep one.", line)
    try:
        return run(entry.path, request)
    except RequestRefused as refused:
        _print_faults(refused.faults, name, source_lines.places(text, toml=toml))
        return None


def _read(text: str, *, toml: bool) -> Mapping[str, Any]:
    try:
        request: Any = tomllib.loads(text) if toml else json.loads(text)
    except ValueError as error:
        raise _unreadable(str(error), text, toml=toml) from None
    if not isinstance(request, dict):
        raise _FileRefusedError("The file must contain one object with the request's fields.")
    return cast("dict[str, Any]", _plain(request))


def _unreadable(message: str, text: str, *, toml: bool) -> _FileRefusedError:
    """Return the error for a file that its reader could not read, at the line it names."""
    at = re.search(r"line (\d+)", message)
    line = int(at.group(1)) if at else len(text.splitlines())
    reason = re.split(r" \(at |: line ", message)[0]
    fix = next((words for start, words in _FIXES if reason.startswith(start)), f"{reason}.")
    language = "TOML" if toml else "JSON"
    hint = " A file whose name ends in .json is read as JSON, any other as TOML." if line == 1 else ""
    return _FileRefusedError(f"Not valid {language}: {fix}{hint}", line)


def _plain(value: Any) -> Any:
    # TOML has a type for days; the contract takes them as texts, because JSON has none.
    if isinstance(value, dict):
        return {name: _plain(entry) for name, entry in cast("dict[str, Any]", value).items()}
    if isinstance(value, list):
        return [_plain(entry) for entry in cast("list[Any]", value)]
    return value.isoformat() if isinstance(value, (dt.date, dt.time)) else value


def _print_error(text: str) -> None:
    print(wrapped(text, "    "), file=sys.stderr)


def _print_faults(faults: list[Fault] | tuple[Fault, ...], name: str, found: source_lines.Places) -> None:
    located = [(source_lines.line_of(fault.pointer, found) or 0, fault) for fault in faults]
    for line, fault in sorted(located, key=lambda entry: entry[0]):
        where = f"{name}:{line}: " if line else f"{name}: "
        _print_error(f"{where}{fault.pointer.strip('/').replace('/', '.')}: {fault.message}")
        if fault.allowed:
            allowed = fault.allowed if isinstance(fault.allowed, str) else ", ".join(fault.allowed)
            print(wrapped(f"allowed: {allowed}", "    ", "    "), file=sys.stderr)


def _write(body: bytes, name: str) -> None:
    if name == "-":
        sys.stdout.buffer.write(body if body.endswith(b"\n") else body + b"\n")
        sys.stdout.flush()
    else:
        Path(name).write_bytes(body)
