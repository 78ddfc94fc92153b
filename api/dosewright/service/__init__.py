"""The calculations over HTTP: routes, formats, limits, problem details and documents, all made from the register."""
