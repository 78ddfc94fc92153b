"""The sheet harness fetches for real, and what a number sent as text becomes in a cell."""

from __future__ import annotations

import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING
from urllib.parse import parse_qs, urlsplit

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from calc_sheets import Office


class Echo(BaseHTTPRequestHandler):
    """Answers with the text asked for, and keeps the addresses asked."""

    asked: list[str] = []  # noqa: RUF012

    def do_GET(self) -> None:
        """Answer ``?say=``; without it, refuse."""
        self.asked.append(self.path)
        said = parse_qs(urlsplit(self.path).query).get("say", [""])[0].encode()
        self.send_response(200 if said else 422)
        self.send_header("Content-Type", "text/plain; charset=utf-8")
        self.send_header("Content-Length", str(len(said)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(said)

    do_HEAD = do_GET  # noqa: N815

    def log_message(self, *_: object) -> None:
        """Stay quiet."""


@pytest.fixture(scope="module")
def echo() -> Iterator[str]:
    with ThreadingHTTPServer(("127.0.0.1", 0), Echo) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}/echo"
        server.shutdown()


@pytest.mark.parametrize("language", ["office", "german_office"])
@pytest.mark.parametrize("said", ["44.5", "1234.567", "0.125", "12.05", "1.5e-07", "-3.3333333333333335", "98765432.1"])
def test_a_plain_number_arrives_whole_in_both_decimal_signs(
    request: pytest.FixtureRequest, echo: str, language: str, said: str
) -> None:
    office: Office = request.getfixturevalue(language)
    (cell,) = office.evaluate(f'=NUMBERVALUE(WEBSERVICE("{echo}?say={said}");".";",")')
    assert cell.kind == "number"
    assert cell.value == pytest.approx(float(said), rel=1e-14)  # a cell keeps 15 digits of a text


def test_value_misreads_a_decimal_point_in_german(office: Office, german_office: Office, echo: str) -> None:
    formula = f'=VALUE(WEBSERVICE("{echo}?say=1234.567"))'
    assert office.evaluate(formula)[0].value == 1234.567
    assert german_office.evaluate(formula)[0].value == 1234567.0


def test_a_number_joined_into_an_address_takes_the_decimal_sign_of_the_sheet(
    office: Office, german_office: Office, echo: str
) -> None:
    formula = f'=WEBSERVICE("{echo}?say="&[.A1])'
    assert office.recalculate([[2.5, formula]])[0][1].text == "2.5"
    assert german_office.recalculate([[2.5, formula]])[0][1].text == "2,5"
    mended = f'=WEBSERVICE("{echo}?say="&SUBSTITUTE([.A1];",";"."))'
    assert german_office.recalculate([[2.5, mended]])[0][1].text == "2.5"


def test_a_refusal_is_an_error_in_the_cell_and_was_really_asked(office: Office, echo: str) -> None:
    Echo.asked.clear()
    refused, caught = office.evaluate(f'=WEBSERVICE("{echo}")', f'=IFERROR(WEBSERVICE("{echo}");"no answer")')
    assert refused.kind == "error"
    assert refused.error != 540  # 540: the office would not even ask
    assert caught.text == "no answer"
    assert Echo.asked


def test_each_document_is_asked_anew(office: Office, echo: str) -> None:
    formula = f'=WEBSERVICE("{echo}?say=again")'
    office.evaluate(formula)
    Echo.asked.clear()
    assert office.evaluate(formula, formula)[1].text == "again"
    assert Echo.asked
