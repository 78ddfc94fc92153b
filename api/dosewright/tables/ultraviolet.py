"""What is assumed of an ultraviolet chamber where a request does not say."""

from dosewright.tables import table

__all__ = ["uv_default"]


def uv_default(field: str) -> str:
    """Return the default of a request field as a text with its unit.

    Raises
    ------
    KeyError
        The table has no default for the field.
    """
    row = table("uv_defaults").row(field=field)
    if row is None:
        raise KeyError(field)
    return row["value"]
