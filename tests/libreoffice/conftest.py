"""Real LibreOffice for the tests in this folder."""

from collections.abc import Iterator

import pytest
from calc_sheets import Office, missing_parts

from debian import lack, nobody_installs, provide


@pytest.fixture(scope="session")
def _office_present() -> None:
    with nobody_installs():
        lacking = missing_parts()
    if lacking:
        provide("libreoffice-calc", "python3-uno")
    if lacking := missing_parts():
        lack(" and ".join(lacking))


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
