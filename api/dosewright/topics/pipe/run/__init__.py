"""A run of pipes, fittings and devices, segment by segment."""
