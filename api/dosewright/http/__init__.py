"""The HTTP service: the only package that knows Litestar."""
