"""Typed client of the Dosewright calculations, over HTTP or in process."""
