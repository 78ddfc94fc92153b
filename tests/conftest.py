"""Fixtures that tests in any folder may ask for."""

import os
from typing import Any

import pytest
from hypothesis import settings
from hypothesis.vendor.pretty import RepresentationPrinter, for_type_by_name

import dosewright.topics  # noqa: F401 - registers the calculations
from serverproc import server

__all__ = ["server"]

# How long an example takes hangs on what else the machine does, and is for benchmarks to say.
settings.register_profile("untimed", settings.default, deadline=None)
settings.load_profile("untimed")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int | None:
    """Run one worker more than there are processors: a browser, an office or a server often keeps one waiting."""
    if "PYTEST_XDIST_AUTO_NUM_WORKERS" in os.environ:
        return None
    return len(os.sched_getaffinity(0)) + 1


def _name_it(entry: Any, printer: RepresentationPrinter, _: bool) -> None:  # noqa: FBT001 - the signature wanted
    printer.text(f"find({entry.path!r})")


# A counterexample names its calculation; printed whole, the generic types in it fail to print themselves.
for_type_by_name("dosewright.engine.registry", "Calculation", _name_it)
