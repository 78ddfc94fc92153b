"""Chlorine: shock chlorination, feed, contact time and retest."""

from dosewright.topics.chlorine import (
    batch,
    contact_time,
    ct_regression,
    emergency,
    feed,
    neutralise,
    product,
    retest,
    speciation,
)

__all__ = [
    "batch",
    "contact_time",
    "ct_regression",
    "emergency",
    "feed",
    "neutralise",
    "product",
    "retest",
    "speciation",
]
