"""Snell, Fresnel and the dry sleeve: printed figures, conservation, and rays that arrive at the right place."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core.light import lamp_angles, optics

AIR, QUARTZ, WATER = 1.0003, 1.5055, 1.3757


def test_losses_at_normal_incidence():
    """4.07 % at air to quartz, 0.20 % at quartz to water, 0.9574 through both; 0.920 for a dry wall."""
    assert optics.normal_reflectance(AIR, QUARTZ) == pytest.approx(0.0407, abs=6e-5)
    assert optics.normal_reflectance(QUARTZ, WATER) == pytest.approx(0.0020, abs=6e-5)
    both = optics.face_transmittance(AIR, QUARTZ, 1.0, 1.0) * optics.face_transmittance(QUARTZ, WATER, 1.0, 1.0)
    assert both == pytest.approx(0.9574, abs=6e-5)
    assert optics.lossless_sleeve_transmittance(AIR, QUARTZ) == pytest.approx(0.920, abs=6e-4)


@pytest.mark.parametrize(("power", "share"), [(1, 0.929), (2, 0.946)], ids=["isotropic", "cosine"])
def test_share_that_passes_both_faces(power, share):
    """Weighted by cos or cos² of the angle at the lamp: the transmitted share of an isotropic or a cosine line."""
    lamp = np.linspace(0.0, 0.5 * np.pi, 20001)
    cosine = np.cos(lamp)
    quartz = np.sqrt(1.0 - (np.sin(lamp) * AIR / QUARTZ) ** 2)
    water = np.sqrt(1.0 - (np.sin(lamp) * AIR / WATER) ** 2)
    faces = optics.face_transmittance(AIR, QUARTZ, cosine, quartz)
    faces *= optics.face_transmittance(QUARTZ, WATER, quartz, water)
    weight = cosine if power == 1 else cosine * cosine
    assert np.trapezoid(weight * faces, lamp) / np.trapezoid(weight, lamp) == pytest.approx(share, abs=6e-4)


@given(st.floats(1.0, 2.5), st.floats(1.0, 2.5), st.floats(0.0, 1.5))
def test_fresnel_by_reflectances_and_reversed(n_from, n_to, angle):
    sine = np.sin(angle) * n_from / n_to
    if sine > 0.999:
        return
    behind = np.arcsin(sine)
    c_from, c_to = np.cos(angle), np.cos(behind)
    across = ((n_from * c_from - n_to * c_to) / (n_from * c_from + n_to * c_to)) ** 2
    along = ((n_to * c_from - n_from * c_to) / (n_to * c_from + n_from * c_to)) ** 2
    passed = optics.face_transmittance(n_from, n_to, c_from, c_to)
    assert passed == pytest.approx(1.0 - 0.5 * (across + along), abs=1e-13)
    assert passed == pytest.approx(optics.face_transmittance(n_to, n_from, c_to, c_from), rel=1e-13)


def test_no_polarised_loss_at_brewsters_angle():
    angle = np.arctan(QUARTZ / AIR)
    c_from, c_to = np.cos(angle), np.cos(0.5 * np.pi - angle)
    across = ((AIR * c_from - QUARTZ * c_to) / (AIR * c_from + QUARTZ * c_to)) ** 2
    assert optics.face_transmittance(AIR, QUARTZ, c_from, c_to) == pytest.approx(1.0 - 0.5 * across, rel=1e-14)


def test_quartz_absorption_gives_the_data_sheet_back():
    coefficient = optics.quartz_absorption(0.86, 0.0015, AIR, QUARTZ)
    lossless = optics.lossless_sleeve_transmittance(AIR, QUARTZ)
    assert lossless * np.exp(-coefficient * 0.0015) == pytest.approx(0.86, rel=1e-14)
    assert optics.quartz_absorption(lossless, 0.0015, AIR, QUARTZ) == 0.0


@pytest.mark.parametrize(("share", "wall"), [(0.93, 0.0015), (0.0, 0.0015), (np.nan, 0.0015), (0.9, 0.0)])
def test_impossible_sleeves_are_refused(share, wall):
    with pytest.raises(ValueError, match="sleeve"):
        optics.quartz_absorption(share, wall, AIR, QUARTZ)
    with pytest.raises(ValueError, match="sleeve"):
        optics.quartz_absorption(np.array([0.9, share]), np.array([0.0015, wall]), AIR, QUARTZ)


@given(st.floats(1e-9, 8.0), st.floats(0.0, 0.2), st.floats(0.008, 0.02), st.floats(0.0, 0.006))
def test_ray_arrives_at_the_radius_after_the_way(way, gap, sleeve_radius, wall):
    rays = optics.RefractedRays(sleeve_radius, optics.SleeveOptics(wall, 0.0, AIR, QUARTZ, WATER))
    tangent = rays.tangent(np.array([way]), sleeve_radius + gap)
    sheaf = rays.bundle(lamp_angles.at_x(np.arcsinh(tangent), np.ones(1)))
    lamp = np.arctan(tangent)
    water = np.arcsin(np.sin(lamp) * AIR / WATER)
    quartz = np.arcsin(np.sin(lamp) * AIR / QUARTZ)
    by_angles = (sleeve_radius - wall) * np.tan(lamp) + wall * np.tan(quartz) + gap * np.tan(water)
    assert by_angles[0] == pytest.approx(way, rel=1e-6)
    assert (sheaf.entry + gap * sheaf.tangent)[0] == pytest.approx(by_angles[0], rel=1e-9)
    assert sheaf.secant[0] < WATER / np.sqrt(WATER**2 - AIR**2) + 1e-12
