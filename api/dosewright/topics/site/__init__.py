"""The site: water check, clearance, condensation, start-up and upkeep."""

from dosewright.topics.site import clearance, commissioning, condensation, upkeep, water_check

__all__ = ["clearance", "commissioning", "condensation", "upkeep", "water_check"]
