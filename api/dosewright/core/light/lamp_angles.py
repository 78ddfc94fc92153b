"""Nodes of the integrals over the angle at which a ray leaves the lamp, to the normal of the lamp's axis.

The integration variable sets how many nodes are required. Straight rays need them evenly spaced in x, with the
tangent as sinh x. Rays refracted by a sleeve are never steep in the water, so their integrand is smooth up to a
right angle. They need half as many, evenly spaced in the tangent of half the angle.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from dosewright.core.arrays import Array

__all__ = [
    "BENT_NODES",
    "STRAIGHT_NODES",
    "WIDE_NODES",
    "Across",
    "Angles",
    "Nodes",
    "across_bent",
    "across_straight",
    "at_x",
    "gauss_legendre",
]


class Angles(NamedTuple):
    """Angles at the lamp, one per node.

    Attributes
    ----------
    tangent, cosine : array
        Of the angle. [-]
    share : array
        Cosine times the step of the angle: the share of an isotropic lamp's light, both axial directions together. [-]
    """

    tangent: Array
    cosine: Array
    share: Array


class Across(NamedTuple):
    """Angles of the rays that do not reach the end wall, then of those that do.

    Attributes
    ----------
    angles : Angles
        All of them.
    whole : int
        Number of nodes for rays that cross all the water.
    """

    angles: Angles
    whole: int


def gauss_legendre(count: int) -> tuple[Array, Array]:
    """Nodes and weights on the piece from 0 to 1, as columns.

    Source
    ------
    Textbook method: Gauss-Legendre quadrature; nodes from numpy.
    """
    points, weights = np.polynomial.legendre.leggauss(count)
    return 0.5 * (points[:, None] + 1.0), 0.5 * weights[:, None]


class Nodes(NamedTuple):
    """Nodes and weights, as columns from 0 to 1: up to the first tangent, and from there to the second."""

    whole: tuple[Array, Array]
    cut: tuple[Array, Array]


# tests/core/test_uv_fluence.py measures their accuracy. A bore many times as wide as its sleeve needs more.
STRAIGHT_NODES: Final = Nodes(gauss_legendre(20), gauss_legendre(12))
BENT_NODES: Final = Nodes(gauss_legendre(12), gauss_legendre(10))
WIDE_NODES: Final = Nodes(gauss_legendre(64), gauss_legendre(48))


def at_x(x: Array, step: Array) -> Angles:
    """Angles whose tangent is sinh x, for steps of x.

    Source
    ------
    Derived here: the tangent of the angle is sinh x.
    """
    grown = np.exp(x)
    shrunk = 1.0 / grown
    cosine = 2.0 / (grown + shrunk)
    return Angles(0.5 * (grown - shrunk), cosine, cosine * cosine * step)


def across_straight(outer: Array, inner: Array, nodes: Nodes) -> Across:
    """Nodes between 0 and two rising tangents, even in x.

    Source
    ------
    Derived here: pieces even in x.
    """
    first, last = np.arcsinh(outer), np.arcsinh(inner)
    width = last - first
    (whole, whole_weights), (cut, cut_weights) = nodes
    x = np.concatenate((first * whole, first + width * cut), axis=-2)
    step = np.concatenate((first * whole_weights, width * cut_weights), axis=-2)
    return Across(at_x(x, step), len(whole))


def across_bent(outer: Array, inner: Array, nodes: Nodes) -> Across:
    """Nodes between 0 and two rising tangents, even in the tangent of half the angle up to the first.

    Source
    ------
    Derived here: pieces even in the tangent of half the angle.
    """
    one, other = _half_angles(outer, *nodes.whole), _tangents_between(outer, inner, *nodes.cut)
    angles = Angles(
        np.concatenate((one.tangent, other.tangent), axis=-2),
        np.concatenate((one.cosine, other.cosine), axis=-2),
        np.concatenate((one.share, other.share), axis=-2),
    )
    return Across(angles, len(nodes.whole[0]))


def _half_angles(tangent: Array, points: Array, weights: Array) -> Angles:
    """From 0 up, by cos = (1 - v²)/(1 + v²) and sin = 2 v/(1 + v²), v the tangent of half the angle."""
    end = tangent / (1.0 + np.sqrt(1.0 + tangent * tangent))
    v = end * points
    square = v * v
    inverse = 1.0 / (1.0 + square)
    square = 1.0 - square
    cosine = square * inverse
    v += v
    v /= square
    inverse *= cosine
    inverse *= end * (2.0 * weights)
    return Angles(v, cosine, inverse)


def _tangents_between(first: Array, last: Array, points: Array, weights: Array) -> Angles:
    """Even in a p whose linear fraction is the tangent, its geometric mean at half way.

    The integrand has poles where the tangent is zero and where it is infinite. This variable keeps both as far away as
    possible.
    """
    rest = 1.0 - points
    pull = np.sqrt(first / last)
    inverse = 1.0 / (rest + pull * points)
    tangent = (first * rest + (pull * last) * points) * inverse
    inverse *= inverse
    inverse *= pull * (last - first) * weights
    cosine = tangent * tangent
    cosine += 1.0
    cosine = 1.0 / np.sqrt(cosine)
    inverse *= cosine
    inverse *= cosine * cosine
    return Angles(tangent, cosine, inverse)
