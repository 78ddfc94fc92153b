"""The look of the plan's PDF: each page as a picture, with its ink measured."""

from __future__ import annotations

import subprocess
from typing import TYPE_CHECKING

import numpy as np
import pytest

from debian import program
from dosewright.engine.run import run
from dosewright.present.pdf import Paper
from dosewright.present.views import page_pdf
from sites import SITES, site

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

DOTS = 50  # an inch
PAPERS: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
INK = 200  # darker than this
SIDE, TOP, FOOT = 17.0, 13.0, 8.0  # mm that stay white; the foot of the page carries its number


def pixels(millimetres: float) -> int:
    return round(millimetres / 25.4 * DOTS)


def pictures(pdf: bytes, folder: Path) -> list[NDArray[np.uint8]]:
    """Grey pictures of the pages, one row of pixels a row."""
    source = folder / "plan.pdf"
    source.write_bytes(pdf)
    command = [program("pdftoppm", "poppler-utils"), "-gray", "-r", str(DOTS), str(source), str(folder / "page")]
    subprocess.run(command, check=True, capture_output=True, timeout=60)
    found: list[NDArray[np.uint8]] = []
    for path in sorted(folder.glob("page-*.pgm")):
        kind, width, height, most, data = path.read_bytes().split(maxsplit=4)
        assert (kind, most) == (b"P5", b"255")
        found.append(np.frombuffer(data, np.uint8).reshape(int(height), int(width)))
    return found


def flaws(page: NDArray[np.uint8], paper: Paper, *, last: bool = False) -> set[str]:
    """What is wrong with a page's picture."""
    width, height = (pixels(size) for size in PAPERS[paper])
    if np.abs(np.array(page.shape) - (height, width)).max() > 1:
        return {"size"}
    ink = page < INK
    told = ink[: height - pixels(2.0 * TOP)]  # above the foot
    if not (0.0005 if last else 0.005) < told.mean() < 0.3:  # the last page may be short
        return {"blank or black"}
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    found = {
        "left": columns[0] < pixels(SIDE),
        "right": columns[-1] >= width - pixels(SIDE),
        "top": rows[0] < pixels(TOP),
        "bottom": rows[-1] >= height - pixels(FOOT),
        # Less than half is filled only where a picture that stays whole follows.
        "wasteful": not last and np.flatnonzero(told.any(axis=1))[-1] < 0.45 * height,
    }
    return {name for name, is_so in found.items() if is_so}


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", SITES)
def test_every_page_is_filled_and_keeps_its_margins(name: str, paper: Paper, tmp_path: Path) -> None:
    pages = pictures(page_pdf(run("site/plan", site(name)), paper), tmp_path)
    assert len(pages) >= 5
    found = {number: flaws(page, paper, last=page is pages[-1]) for number, page in enumerate(pages, 1)}
    assert {number: told for number, told in found.items() if told} == {}


def test_the_measure_notices_what_it_looks_for(tmp_path: Path) -> None:
    page = pictures(page_pdf(run("site/plan", site("lake_cottage")), "a4"), tmp_path)[0]
    assert flaws(page, "a4") == set()
    assert flaws(page, "letter") == {"size"}
    assert flaws(np.full_like(page, 255), "a4") == {"blank or black"}
    assert flaws(np.roll(page, pixels(15.0), axis=1), "a4") == {"right"}
    assert flaws(np.roll(page, -pixels(12.0), axis=0), "a4") == {"top"}
    half = page.copy()
    half[page.shape[0] * 2 // 5 : -pixels(2.0 * TOP)] = 255
    assert flaws(half, "a4") == {"wasteful"}
