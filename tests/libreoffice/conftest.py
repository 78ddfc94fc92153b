"""Real LibreOffice for the tests in this folder."""

import os
from collections.abc import Iterator

import pytest
from calc_sheets import Office, missing_parts


@pytest.fixture(scope="session")
def _office_present() -> None:
    lacking = missing_parts()
    if not lacking:
        return
    said = "spreadsheet tests need " + " and ".join(lacking)
    if os.environ.get("CI"):
        pytest.fail(said)
    pytest.skip(said)


@pytest.fixture(scope="session")
def office(_office_present: None) -> Iterator[Office]:
    """Calc as an American user has it: decimal point."""
    with Office("en-US") as started:
        yield started


@pytest.fixture(scope="session")
def german_office(_office_present: None) -> Iterator[Office]:
    """Calc as a German user has it: decimal comma, full stop between thousands."""
    with Office("de-DE") as started:
        yield started
