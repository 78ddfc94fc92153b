"""The command that plans a whole installation from a file."""

import argparse
import datetime as dt
import json
import re
import sys
import tomllib
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any, cast

from dosewright.cli import source_lines
from dosewright.cli.template import schema, template
from dosewright.engine.faults import Fault, RequestRefused
from dosewright.engine.run import run
from dosewright.engine.sentences import capitalised
from dosewright.http.formats import FORMATS, View
from dosewright.http.problems import ProblemError
from dosewright.present.text import wrapped
from dosewright.present.wording import VERDICTS, WEIGHTS, said

__all__ = ["add_command"]

_SUMMARY = "plan a whole installation from a TOML or JSON file"
_USAGE = 2
_SCENARIOS = files("dosewright.topics.plan") / "scenarios"
_NAMES = ("cottage", "iron_well", "lake_cottage")


# What the readers of both languages say, in words of what to mend.
_MENDED = (
    ("Cannot overwrite a value", "This name was given twice. Keep one."),
    ("Cannot mutate immutable", "This name was given twice. Keep one."),
    ("Cannot declare", "This table was given before: put its lines together under one head."),
    ("Illegal character '\\n'", "A text is not closed on its line: it ends with the quote it began with."),
    ("Expected '=' after a key", "A line is a name, an equals sign and a value; text stands in quotes."),
    ("Expected newline", "Something stands behind the value: text stands in quotes, a day is year-month-day."),
    ("Invalid value", "A value is a number, true, false, a day, a list, or text in quotes."),
    ("Expecting ',' delimiter", "A comma is missing before this."),
    ("Extra data", "Text follows the closing brace."),
    ("Expecting property name", "Expected a name in double quotes, and no comma before a closing brace."),
)


class _FileRefusedError(ValueError):
    """Raised where a file holds no plan."""

    def __init__(self, message: str, line: int | None = None) -> None:
        super().__init__(message)
        self.line = line


def add_command(commands: Any) -> None:
    """Add ``plan``."""
    plan = commands.add_parser(
        "plan", help=_SUMMARY, description=f"{capitalised(_SUMMARY)}; faults are reported with their line."
    )
    source = plan.add_mutually_exclusive_group(required=True)
    source.add_argument("file", nargs="?", metavar="FILE", help="the plan's request; a name ending in .json is JSON")
    source.add_argument("--scenario", choices=_NAMES, help="plan an invented site instead of a file")
    source.add_argument("--template", metavar="FILE", help="write a commented file to start from; - prints it")
    source.add_argument("--schema", action="store_true", help="print the JSON Schema of the file, for editors")
    for form, what in (("pdf", "a page to print"), ("html", "a page to read"), ("json", "the whole answer")):
        plan.add_argument(f"--{form}", metavar="FILE", help=f"write {what}; - is standard output")
    plan.add_argument("--paper", choices=("a4", "letter"), default="a4", help="paper of the PDF (default: a4)")
    plan.set_defaults(run=_plan)


def _plan(chosen: argparse.Namespace) -> int:
    if chosen.schema:
        sys.stdout.write(schema())
        return 0
    if chosen.template:
        _write(template().encode(), chosen.template)
        return 0
    name = chosen.file or f"{chosen.scenario}.toml"
    try:
        source = Path(chosen.file) if chosen.file else _SCENARIOS / f"{chosen.scenario}.toml"
        text = source.read_text(encoding="utf-8-sig")
        found = _answered(text, name)
        if found is None:
            return _USAGE
        outputs = {form: getattr(chosen, form) for form in ("pdf", "html", "json") if getattr(chosen, form)}
        for form, target in outputs.items():
            _write(FORMATS[form].render(found, View(paper=chosen.paper)), target)
    except ProblemError as problem:
        print(f"dosewright plan: {problem.problem.detail}", file=sys.stderr)
        return _USAGE
    except _FileRefusedError as error:
        _say(f"{name}:{error.line or 1}: {error}")
        return _USAGE
    except UnicodeDecodeError:
        print(f"dosewright plan {name}: The file is not text in UTF-8.", file=sys.stderr)
        return _USAGE
    except OSError as error:
        print(f"dosewright plan {name}: {error}", file=sys.stderr)
        return _USAGE
    if "-" not in outputs.values():
        print(_told(found))
    return 0


def _answered(text: str, name: str) -> Any:
    toml = not name.lower().endswith(".json")
    request = _read(text, toml=toml)
    # JSON's reader keeps the last of two and says nothing; that of TOML refuses them.
    repeated = [] if toml else source_lines.places(text, toml=False).repeated
    if repeated:
        place, line = repeated[0]
        raise _FileRefusedError(f"{place[-1]} was given twice. Keep one.", line)
    try:
        return run("site/plan", request)
    except RequestRefused as refused:
        _tell(refused.faults, name, source_lines.places(text, toml=toml))
        return None


def _read(text: str, *, toml: bool) -> Mapping[str, Any]:
    try:
        request: Any = tomllib.loads(text) if toml else json.loads(text)
    except ValueError as error:
        raise _unreadable(str(error), text, toml=toml) from None
    if not isinstance(request, dict):
        raise _FileRefusedError("The file must hold one object, with the plan's fields.")
    return cast("dict[str, Any]", _plain(request))


def _unreadable(said: str, text: str, *, toml: bool) -> _FileRefusedError:
    """Return the refusal of a file that its reader could not read, at the line it names."""
    at = re.search(r"line (\d+)", said)
    line = int(at.group(1)) if at else len(text.splitlines())
    reason = re.split(r" \(at |: line ", said)[0]
    mended = next((words for start, words in _MENDED if reason.startswith(start)), f"{reason}.")
    language = "TOML" if toml else "JSON"
    hint = " A file whose name ends in .json is read as JSON, any other as TOML." if line == 1 else ""
    return _FileRefusedError(f"This is no {language}. {mended}{hint}", line)


def _plain(value: Any) -> Any:
    # TOML has days of its own; the contract takes them as texts, as JSON has none.
    if isinstance(value, dict):
        return {name: _plain(entry) for name, entry in cast("dict[str, Any]", value).items()}
    if isinstance(value, list):
        return [_plain(entry) for entry in cast("list[Any]", value)]
    return value.isoformat() if isinstance(value, (dt.date, dt.time)) else value


def _say(text: str) -> None:
    print(wrapped(text, "    "), file=sys.stderr)


def _tell(faults: list[Fault] | tuple[Fault, ...], name: str, found: source_lines.Places) -> None:
    told = [(source_lines.line_of(fault.pointer, found) or 0, fault) for fault in faults]
    for line, fault in sorted(told, key=lambda entry: entry[0]):
        where = f"{name}:{line}: " if line else f"{name}: "
        _say(f"{where}{fault.pointer.strip('/').replace('/', '.')}: {fault.message}")
        if fault.allowed:
            allowed = fault.allowed if isinstance(fault.allowed, str) else ", ".join(fault.allowed)
            print(wrapped(f"allowed: {allowed}", "    ", "    "), file=sys.stderr)


def _told(answer: Any) -> str:
    title, meaning = VERDICTS[answer.verdict]
    lines = [f"Verdict: {title}. {meaning}"]
    for reason in answer.reasons:
        by = f" (short by {said(reason.beyond_by, 'up')})" if reason.beyond_by else ""
        lines.append(f"{WEIGHTS[reason.weight]}: {reason.message}{by}")
    lines += [f"Not given: {gap.section}. Not assessed without it: {gap.cannot_judge}." for gap in answer.missing]
    lines += [f"Caution: {caution.message}" for caution in answer.cautions]
    return "\n".join(wrapped(line, "    ") for line in lines)


def _write(body: bytes, name: str) -> None:
    if name == "-":
        sys.stdout.buffer.write(body if body.endswith(b"\n") else body + b"\n")
        sys.stdout.flush()
    else:
        Path(name).write_bytes(body)
