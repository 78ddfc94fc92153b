"""Water and moist air: properties, heat and scaling."""
