"""Pictures of answers: plain data first (:mod:`chart`), drawn when asked; only then is the plotting library loaded.

A picture hangs on the answer alone, so that it is the same through every door. A curve comes from the calculation
itself, asked as a batch over the axis.
"""

from dosewright.pictures.charts import CHARTS, NoPictureError, chart_of, has_picture
from dosewright.present.picture_library import MissingLibraryError
from dosewright.present.rendering import FORMS, Form, render

__all__ = ["CHARTS", "FORMS", "Form", "MissingLibraryError", "NoPictureError", "chart_of", "has_picture", "render"]
