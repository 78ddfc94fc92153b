"""The invented sites that ship: their files and their requests."""

from __future__ import annotations

import datetime as dt
import tomllib
from importlib.resources import files
from typing import Any

SITES = ("cottage", "iron_well", "lake_cottage")


def source(name: str) -> str:
    """Text of a site's file."""
    return (files("dosewright.topics.plan") / "scenarios" / f"{name}.toml").read_text(encoding="utf-8")


def site(name: str) -> dict[str, Any]:
    """Request of a site, days as texts."""
    request = tomllib.loads(source(name))
    for part in request.values():
        if isinstance(part, dict) and isinstance(part.get("installed"), dt.date):
            part["installed"] = part["installed"].isoformat()
    return request
