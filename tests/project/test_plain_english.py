"""No text and no name of the project uses the expressions that plain English replaced.

The texts are those a person meets: string literals of the Python source (messages, meanings, docstrings, help of the
command line), pages, guides, tables, method sheets, the OpenAPI document, README.md and the other documents.
"""

from __future__ import annotations

import ast
import json
import re
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]
SOURCES = ("api", "sdk", "openapi/openapi.json", "README.md", "DEVELOPERS.md", "CHANGELOG.md")
TEXT_SUFFIXES = {".html", ".js", ".md", ".toml", ".csv", ".typ", ".css", ".sh", ".mjs", ".java"}

EXPRESSIONS = {
    r"(?<!I )\b(?:told|tells?|telling)\b(?! the clinic)": "reported, reports, shows; an answer lists its values",
    r"\b(?:heard|hears)\b": "received, noisy",
    r"\basked\b|\basks? for\b|\bask the same\b": "requested, requires, repeats",
    r"\bwanted\b|\bwants\b": "expected, required, needs",
    r"\bmend(?:s|ed|ing)?\b": "fix",
    r"\bparted by\b|\bpart their\b": "separated by",
    r"\bstands? (?:more than once|twice|beside|behind|below|under|there|above|its|for|at|of)\b": "is, represents",
    r"\bas (?:it|they) stands?\b|\bthe read ones stand\b": "unchanged",
    r"\bhangs? on\b|\bwhere does it hang\b": "depends on, is connected to, is mounted",
    r"\brests? on\b": "is based on",
    r"\bgo(?:es)? by\b": "use, follow",
    r"\bholds? for\b": "is valid for",
    r"\b(?:is|what is) let go\b|\blet the water\b|\bmay the water\b": "discharge",
    r"(?<!of )\bmay\b": "can",
    r"\bof (?:its|their|his|our) own\b": "separate, its",
    r"\bsuch an?\b": "this, that",
    r"\ball that\b": "everything, each",
    r"\bbesides?\b": "next to, in addition to, with",
    r"\b(?:un)?packed (?:by|with|in|bod(?:y|ies))\b|\bpacking (?:by|and)\b": "compressed",
    r"\b[Rr]efusals?\b(?! *[.(=])": "fault, error",
    r"\b(?:thereof|therein|thereby|whereof|whereby|hereby|hence|lest|anew|unfound|rightly)\b": "plain words",
    r"\berrs?\b": "overestimates, is wrong by",
    r"\bcomes? out beyond\b": "overflowed",
    r"\bat fault\b|\bfault is ours\b": "with errors; internal error",
    r"\bis not read here\b": "unsupported content type",
    r"\b[Nn]othing is at /": "Not found",
    r"\b(?:Treat or mend|Do not install so|speaks? against)\b": "see the verdicts of a plan",
    r"\b(?:Stops it|To be done first|Worth a look)\b": "see the severities of a plan",
    r"\btreat it by\b": "fit",
    r"\bcosts? more pressure\b": "pressure loss is too high",
    r"\bhead-room\b|\bBeyond its limit\b": "flow margin; short by",
    r"\bwhat the light is for\b": "UV kills bacteria",
    r"\bfaeces\b|\bway in\b(?! which)": "sewage or manure",
    r"\bis beyond what\b": "not enough for",
    r"\bChecklist of the start\b": "Start-up checklist",
    r"\b[Tt]he same again\b": "How to repeat this calculation",
    r"\bwhere nothing was given\b": "Assumed values",
    r"\b(?:something|[Ww]hat|[Tt]hings?) to look at\b|^To look at$": "Warnings",
    r"\bmeasures a person has\b": "cups, quarts or litres",
    r"\bhides what lives\b|\bset against hypochlorite\b|\bloses strength in storage\b": "see the cautions",
    r"\binputs? cannot be used\b": "name what to correct",
}
"""Expressions that no text has, each with the words to write instead."""

NAMES = {
    r"^_*(?:hear|note|tell|warn_of)_|^_*tell$": "warn_…",
    r"^rest_(?:on|once)$|^_*rest_on_": "add_basis, add_basis_once",
    r"^Found$": "SectionAnswers",
    r"(?:^|_)(?:told|untold|wanted|asked|said|heard|spoken|mended)(?:_|$)": "the word a user would use",
    r"^as_read$|^left_out$": "in_readable_units, omitted",
}
"""Names that nothing in the source has: functions, classes, variables, parameters."""
MODULES = re.compile(
    r"^(?:placing|telling|picking|asking|naming|measuring|holding|running|composing"
    r"|said|walking|answerable|plausible|.*_asked)$"
)
ALLOWED = re.compile(
    # Keys of tables, the words that people type, and the names of other things.
    r"RequestRefused|spoken_names|preflight-refused"
)


def tracked(*paths: str) -> list[Path]:
    listed = subprocess.run(["git", "ls-files", *paths], cwd=ROOT, capture_output=True, text=True, check=True)
    return [ROOT / name for name in listed.stdout.splitlines()]


def texts_of(path: Path) -> Iterator[str]:
    """Yield the texts in a file that a person can meet."""
    source = path.read_text(encoding="utf-8")
    if path.suffix == ".py":
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value:
                yield node.value
    elif path.name == "openapi.json":
        yield from described(json.loads(source))
    elif path.name == "CHANGELOG.md":
        newest = source.split("\n## ")[1]
        yield from (line for line in newest.splitlines() if not line.startswith("|"))  # old names are in tables
    elif path.suffix in TEXT_SUFFIXES:
        yield from source.splitlines()


def described(value: Any) -> Iterator[str]:
    """Yield the descriptions, summaries and titles of a document."""
    if isinstance(value, dict):
        for name, inner in cast("dict[str, Any]", value).items():
            if name in {"description", "summary", "title"} and isinstance(inner, str):
                yield inner
            else:
                yield from described(inner)
    elif isinstance(value, list):
        for inner in cast("list[Any]", value):
            yield from described(inner)


def names_of(path: Path) -> Iterator[str]:
    """Yield the names that a Python file defines."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)):
            yield node.name
        elif isinstance(node, ast.arg):
            yield node.arg
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id


def expressions_in(text: str) -> list[str]:
    """Return what is wrong with a text: each expression, with the words to write instead."""
    return [
        f"{match[0]!r} in {text[max(0, match.start() - 60) : match.end() + 40]!r}: write {better}"
        for pattern, better in EXPRESSIONS.items()
        for match in re.finditer(pattern, ALLOWED.sub("", text), re.MULTILINE)
    ]


def test_no_text_uses_a_replaced_expression() -> None:
    wrong = [
        f"{path.relative_to(ROOT)}: {one}"
        for path in tracked(*SOURCES)
        for text in texts_of(path)
        for one in expressions_in(text)
    ]
    assert not wrong, "\n".join(wrong)


def test_no_name_uses_a_replaced_word() -> None:
    wrong = [
        f"{path.relative_to(ROOT)}: {name}: write {better}"
        for path in tracked("api", "sdk")
        if path.suffix == ".py"
        for name in names_of(path)
        for pattern, better in NAMES.items()
        if re.search(pattern, name)
    ]
    modules = [
        str(path) for path in tracked("api", "sdk", "tests") if path.suffix == ".py" and MODULES.match(path.stem)
    ]
    assert not wrong + modules, "\n".join(wrong + modules)


@pytest.mark.parametrize(
    "text",
    [
        "A text is wanted here.",
        "flow stands more than once; it takes one value.",
        "A body of this content type is not read here",
        "Nothing is at /nope.",
        "The service failed; the fault is ours",
        "The flow comes out beyond any finite number",
        "rows at fault are NaN and told in many.errors",
        "how to mend it",
        "errs high by 8 to 50 %",
        "Treat or mend first",
        "Do not install so. What is named below first speaks against it.",
        "Worth a look",
        "treat it by softener",
        "The run costs more pressure than it may at the peak flow.",
        "Beyond its limit by 2.52 gal/min (head-room)",
        "Bacteria are what the light is for; still, disinfect the well.",
        "E. coli comes from faeces: find and stop their way in",
        "The water is beyond what ultraviolet light makes safe.",
        "Checklist of the start",
        "What is let go",
        "The same again",
        "Usual values used where nothing was given",
        "To look at",
        "hypochlorite disinfects the well and all that hangs on it",
        "in measures a person has",
        "Chlorine left in the sample hides what lives.",
        "4 inputs cannot be used",
        "What this rests on",
        "The units asked for",
        "Why a request met a refusal",
    ],
)
def test_a_replaced_expression_is_detected(text: str) -> None:
    assert expressions_in(text)


@pytest.mark.parametrize(
    "text", ["A standard lamp in May.", "Tell the clinic before the work.", "Commendable units, and more."]
)
def test_an_innocent_word_is_not(text: str) -> None:
    assert not expressions_in(text)


@pytest.mark.parametrize(
    "name", ["hear_ph", "_note_acid", "_warn_of_scale", "rest_on", "Found", "wanted_dose", "asked"]
)
def test_a_replaced_name_is_detected(name: str) -> None:
    assert any(re.search(pattern, name) for pattern in NAMES)
