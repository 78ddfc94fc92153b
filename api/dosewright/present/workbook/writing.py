"""Writes the workbooks of all calculations into a folder."""

from collections.abc import Iterator
from pathlib import Path

from dosewright.engine.registry import calculations
from dosewright.present.workbook.excel import as_xlsx
from dosewright.present.workbook.layout import book_of

__all__ = ["write_all"]


def write_all(folder: Path, address: str) -> Iterator[Path]:
    """Write every workbook; yield each file.

    Parameters
    ----------
    folder : Path
        Where to; made where it does not exist.
    address : str
        Where the service answers.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for path in calculations():
        target = folder / f"{path.replace('/', '-')}.xlsx"
        target.write_bytes(as_xlsx(book_of(path, address)))
        yield target
