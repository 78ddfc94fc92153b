"""Many rows in one request: as columns, or as a list of requests."""
