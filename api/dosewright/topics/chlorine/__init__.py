"""Chlorine: shock chlorination, feed, contact time and retest."""

from dosewright.topics.chlorine import (
    contact_time,
    ct_regression,
    emergency,
    feed,
    neutralise,
    product,
    retest,
    shock,
    speciation,
)

__all__ = [
    "contact_time",
    "ct_regression",
    "emergency",
    "feed",
    "neutralise",
    "product",
    "retest",
    "shock",
    "speciation",
]
