"""The site: water check, clearance, condensation, start-up and upkeep."""
