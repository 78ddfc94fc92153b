"""Fixtures that tests in any folder may ask for."""

from serverproc import server

__all__ = ["server"]
