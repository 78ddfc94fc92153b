"""The whole plan of a site, put together from the other calculations."""

from dosewright.topics.plan import plan

__all__ = ["plan"]
