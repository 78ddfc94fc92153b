"""The whole plan of a site, put together from the other calculations."""
