"""What pages need beyond the calculations, told by name where it is not installed."""

__all__ = ["MissingPagesLibraryError"]


class MissingPagesLibraryError(RuntimeError):
    """Raised where a library that a page is made with is not installed."""

    def __init__(self, what: str, name: str) -> None:
        super().__init__(f"{what} need {name}, which is not installed: pip install 'dosewright[pages]'")
