"""The calculations by topic; importing this package registers them all.

A topic can import only from those before it in this list: uv and pipe, chlorine, site, plan.
"""

from dosewright.present import showing
from dosewright.topics import chlorine, pipe, plan, site, uv

__all__ = ["chlorine", "pipe", "plan", "showing", "site", "uv"]
