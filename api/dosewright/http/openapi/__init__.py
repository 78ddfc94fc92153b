"""The OpenAPI document, derived from the registry."""
