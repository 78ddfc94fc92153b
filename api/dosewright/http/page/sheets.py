"""Method sheets: equations, symbols, inputs, sources and validity, and the check values with their deviation today."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from html import escape
from typing import Any

from dosewright import __version__
from dosewright.engine.base import Basis
from dosewright.engine.check_values import Verdict, verdicts
from dosewright.engine.directions import exceptions_of, safer_of, undirected_of, worse_of
from dosewright.engine.fields import MISSING
from dosewright.engine.reading.reader import note_of, reader_for
from dosewright.engine.registry import Calculation, calculations, find
from dosewright.engine.run import run
from dosewright.http.page.methods import method

__all__ = ["list_of_sheets", "sheet"]


def list_of_sheets(root: str) -> str:
    """Return the list of method sheets as HTML."""
    links = [
        f'<li><a href="{escape(root)}/methods/{path}">{escape(entry.summary)}</a> <code>{path}</code></li>'
        for path, entry in calculations().items()
    ]
    inside = f"<h1>Method sheets</h1><section><ul>{''.join(links)}</ul></section>"
    return _page("Method sheets", inside, root)


def sheet(path: str, root: str) -> str:
    """Return the method sheet of a calculation as HTML.

    Raises
    ------
    KeyError
        No calculation has this path.
    """
    entry = find(path)
    paragraphs = "".join(f"<p>{escape(' '.join(part.split()))}</p>" for part in _spoken(entry).split("\n\n"))
    asked = f'<a href="{escape(root)}/#{path}">Try it</a>, or call <code>/v1/{path}</code>.'
    parts = [
        f"<h1>{escape(entry.summary)}</h1>",
        f"<div>{paragraphs}<p>{asked}</p></div>",
        _equations(path),
        _inputs(entry),
        _directions(entry),
        _sources(entry),
        _settled(path),
        _checks(path),
    ]
    return _page(f"Method: {entry.summary}", "".join(parts), root)


def _spoken(entry: Calculation[Any, Any]) -> str:
    return entry.description.replace("`", "")


def _page(title: str, inside: str, root: str) -> str:
    at = escape(root)
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<meta name="color-scheme" content="light dark">
<title>{escape(title)} – Dosewright</title>
<link rel="icon" href="{at}/page/icon.svg" type="image/svg+xml">
<link rel="stylesheet" href="{at}/page/page.css">
</head>
<body>
<a class="skip" href="#main">Skip to the sheet</a>
<header class="top">
<a class="home" href="{at}/"><img src="{at}/page/icon.svg" alt="" width="28" height="28"> Dosewright</a>
<nav aria-label="Documents"><a href="{at}/methods">Methods</a> <a href="{at}/guides">Spreadsheets</a>
<a href="{at}/docs">For programs</a></nav>
</header>
<div class="frame"><main id="main" class="sheet" tabindex="-1">{inside}</main></div>
<footer>Version {__version__}. A calculation is not a permit, a certificate or a validated dose.</footer>
</body>
</html>
"""


def _equations(path: str) -> str:
    told = method(path)
    equations = "".join(
        f'<div class="equation"><span>{escape(says)}</span>'
        f'<div class="form" role="group" aria-label="{escape(says)}" tabindex="0">{form}</div></div>'
        for says, form in told.equations
    )
    symbols = "".join(f"<dt>{symbol}</dt><dd>{escape(meaning)}</dd>" for symbol, meaning in told.symbols)
    return f'<section><h2>Equations</h2>{equations}<h2>Symbols</h2><dl class="symbols">{symbols}</dl></section>'


def _inputs(entry: Calculation[Any, Any]) -> str:
    reader = reader_for(entry.request)
    rows: list[Sequence[str]] = []
    for field in reader.fields:
        allowed = field.limits
        needed = "needed" if field.default is MISSING else field.default_text or "optional"
        rows.append((field.name, note_of(reader.struct, field.name).doc, allowed, needed))
    return _table("Inputs", ("input", "meaning", "allowed", "default"), rows)


def _directions(entry: Calculation[Any, Any]) -> str:
    """Say which direction makes each input worse and each output safer: a worse input never gives a safer answer."""
    lines = [
        *_direction_lines("Worse when higher", worse_of(entry.request), "higher"),
        *_direction_lines("Worse when lower", worse_of(entry.request), "lower"),
        *_direction_lines("Safer when higher", safer_of(entry.answer), "higher"),
        *_direction_lines("Safer when lower", safer_of(entry.answer), "lower"),
    ]
    for name, safe in safer_of(entry.answer).items():
        if isinstance(safe, bool):
            lines.append(f"<li>Safer when {'true' if safe else 'false'}: <code>{name}</code></li>")
        elif isinstance(safe, tuple):
            lines.append(f"<li>From safest to worst, <code>{name}</code>: {', '.join(safe)}</li>")
    reasons = {**undirected_of(entry.request), **undirected_of(entry.answer)}
    lines += [f"<li>No one direction: <code>{name}</code> ({escape(reason)})</li>" for name, reason in reasons.items()]
    lines += [
        f"<li>Exception: <code>{worse}</code> and <code>{name}</code>: {escape(reason)}</li>"
        for (worse, name), reason in exceptions_of(entry.request).items()
    ]
    note = "<p>A worse input never gives a safer answer; a test draws random requests and checks it.</p>"
    return f"<section><h2>Safe directions</h2>{note}<ul>{''.join(lines)}</ul></section>" if lines else ""


def _direction_lines(title: str, directions: Mapping[str, Any], direction: str) -> list[str]:
    names = [f"<code>{name}</code>" for name, found in directions.items() if found == direction]
    return [f"<li>{title}: {', '.join(names)}</li>"] if names else []


def _sources(entry: Calculation[Any, Any]) -> str:
    basis: list[Basis] = run(entry.path, entry.example).basis
    rows = [(one.method, one.source, one.validity) for one in basis]
    note = "<p>These are the sources of the example. Each answer names its own.</p>"
    return _table("Sources and validity", ("method", "source", "holds for"), rows, note)


def _settled(path: str) -> str:
    told = method(path).settled
    return _table("Where sources disagree", ("table", "what is taken"), told) if told else ""


@cache
def _verdicts(path: str) -> tuple[dt.date, tuple[Verdict, ...]]:
    return dt.datetime.now(dt.UTC).date(), tuple(verdicts(target=path))


def _checks(path: str) -> str:
    day, found = _verdicts(path)
    if not found:
        return "<section><h2>Check values</h2><p>No published value checks this calculation.</p></section>"
    met = sum(verdict.within for verdict in found)
    note = f"<p>Recomputed by this service on {day.isoformat()}: {met} of {len(found)} published values met.</p>"
    columns = ("value", "published", "computed", "deviation", "allowed", "verdict", "source")
    return _table("Check values", columns, [_check(verdict) for verdict in found], note)


def _check(verdict: Verdict) -> Sequence[str]:
    check = verdict.check
    source = ", ".join(part for part in (check["source"], check["section"], check["year"], check["status"]) if part)
    return (
        check["field"],
        f"{check['published']} {check['unit']}".strip(),
        "–" if verdict.computed is None else f"{verdict.computed:.12g}",
        "–" if verdict.deviation is None else f"{verdict.deviation:+.2g}",
        f"±{check['tolerance']}",
        "met" if verdict.within else "MISSED",
        source,
    )


def _table(title: str, columns: Sequence[str], rows: Iterable[Sequence[str]], note: str = "") -> str:
    head = "".join(f'<th scope="col">{column}</th>' for column in columns)
    body = "".join(
        f'<tr><th scope="row">{escape(first)}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in rest)}</tr>'
        for first, *rest in rows
    )
    name = title.lower().replace(" ", "-")
    return (
        f'<section><h2 id="{name}">{title}</h2>{note}<div class="wide" role="region" tabindex="0" '
        f'aria-labelledby="{name}"><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div></section>'
    )
