"""Names of the OpenDocument vocabularies."""

__all__ = ["namespaces"]

_ROOT = "urn:oasis:names:tc:opendocument:xmlns:"
_NAMES = {
    "office": f"{_ROOT}office:1.0",
    "table": f"{_ROOT}table:1.0",
    "text": f"{_ROOT}text:1.0",
    "style": f"{_ROOT}style:1.0",
    "fo": f"{_ROOT}xsl-fo-compatible:1.0",
    "number": f"{_ROOT}datastyle:1.0",
    "draw": f"{_ROOT}drawing:1.0",
    "svg": f"{_ROOT}svg-compatible:1.0",
    "chart": f"{_ROOT}chart:1.0",
    "meta": f"{_ROOT}meta:1.0",
    "of": f"{_ROOT}of:1.2",
}


def namespaces(*prefixes: str) -> str:
    """Return the declarations of some prefixes."""
    return " ".join(f'xmlns:{prefix}="{_NAMES[prefix]}"' for prefix in prefixes)
