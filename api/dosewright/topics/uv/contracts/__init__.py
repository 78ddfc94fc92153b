"""Requests and answers of the ultraviolet calculations."""
