"""A sheet of 1,000 cells in real LibreOffice against a real server: seconds, requests, and what caching saves.

Run it as a script; it prints one line a way of filling the cells. The server's log counts the requests, by method.
"""

from __future__ import annotations

import collections
import http.client
import json
import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "libreoffice")]

from calc_sheets import Office  # noqa: E402

from dosewright.present.workbook import selection as picking  # noqa: E402
from serverproc import ServerProcess, serving  # noqa: E402

CELLS = 1_000
FIELDS = ("velocity", "bore", "reynolds_number", "velocity_limit", "smallest_bore")
FIXED = "/v1/pipe/velocity?bore=20%20mm&units=us"


def flows(count: int) -> list[str]:
    return [f"{2 + index * 0.01:.2f}" for index in range(count)]


def one_address_a_cell(address: str) -> list[list[str]]:
    return [
        [f'=NUMBERVALUE(WEBSERVICE("{address}{FIXED}&flow={flow}&pick=velocity");".";",")'] for flow in flows(CELLS)
    ]


def one_answer_for_five_cells(address: str) -> list[list[str]]:
    rows: list[list[str]] = []
    for row, flow in enumerate(flows(CELLS // len(FIELDS)), 1):
        held = f"[.$A{row}]"
        picked = [f"={picking.number(quoted(name), held)}" for name in FIELDS]
        rows.append([f'=WEBSERVICE("{address}{FIXED}&flow={flow}&format=csv")', *picked])
    return rows


def quoted(name: str) -> str:
    return f'"{name}"'


def one_address_for_all_cells(address: str) -> list[list[str]]:
    return [[f'=NUMBERVALUE(WEBSERVICE("{address}{FIXED}&flow=9&pick=velocity");".";",")'] for _ in range(CELLS)]


def methods(server: ServerProcess) -> collections.Counter[str]:
    lines = [json.loads(line) for line in server.written().splitlines() if line.startswith("{")]
    return collections.Counter(line["method"] for line in lines if "method" in line)


def measure(office: Office, server: ServerProcess) -> None:
    for fill in (one_address_a_cell, one_answer_for_five_cells, one_address_for_all_cells):
        before = methods(server)
        began = time.perf_counter()
        cells = [cell for row in office.recalculate(fill(server.base_url)) for cell in row if cell.kind == "number"]
        seconds = time.perf_counter() - began
        asked = methods(server) - before
        if len(cells) != CELLS:
            raise SystemExit(f"{fill.__name__}: only {len(cells)} of {CELLS} cells hold a number")
        told = ", ".join(f"{count} {method}" for method, count in sorted(asked.items()))
        print(f"{fill.__name__.replace('_', ' '):<28} {seconds:6.2f} s  {asked.total():5} requests ({told})")


def conditional(server: ServerProcess) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", server.port)
    target = f"{FIXED}&flow=9&format=csv"

    def ask(headers: dict[str, str]) -> tuple[int, int, str]:
        connection.request("GET", target, headers=headers)
        answer = connection.getresponse()
        return answer.status, len(answer.read()), answer.headers["etag"]

    status, size, tag = ask({})
    again, nothing, _ = ask({"if-none-match": tag})
    print(f"a client that keeps answers   {status}: {size} bytes, then {again}: {nothing} bytes; max-age an hour")
    connection.close()


def main() -> None:
    with serving(log_level="info") as server, Office("en-US") as office:
        office.evaluate("=1")
        measure(office, server)
        conditional(server)


if __name__ == "__main__":
    main()
