"""The whole plan of a site, composed of the other calculations."""

from dosewright.topics.plan import plan

__all__ = ["plan"]
