"""Derating curves in many digits, by a road of their own.

Run: python tests/reference/uv_golden.py > tests/reference/uv_golden.csv

Nothing of the code under test is used. Light is followed ray by ray from the lamp, in mpmath at 20 digits: a ray leaves
a point of the arc at an angle, is bent and weakened at both faces of the sleeve (Snell; reflectances of both
polarisations), and fades in the water until it meets the wall or an end plate. The fluence rate averaged over the water
is what all rays leave along their tracks: power times the integral of exp(-a s) over each track, over the volume. For
laminar flow the same rays are counted where they cross a radius. Both integrals run over the point of the arc and the
angle; only where the integrand is flat along the arc is its length taken instead. Flows follow from the definitions of
the mean dose and the RED; the laminar flow is the root of RED = target.
"""

from __future__ import annotations

import csv
import sys

import mpmath as mp

mp.mp.dps = 20

COLUMNS = ("chamber", "bore", "sleeve", "arc", "length", "output", "uvt", "field_model", "hydraulics", "derated_flow")
SOURCED = ("source", "section", "year", "status")
SOURCE = ("ray by ray in mpmath at 20 digits, uv_golden.py; chambers invented", "derating curves", "2026", "computed")
# Invented: bore, outer diameter of the sleeve, arc, chamber length [mm]; UV-C output [W].
CHAMBERS = {
    "narrow": (52, 24.5, 260, 300, 6.5),
    "household": (89, 23, 745, 800, 22),
    "wide": (150, 30, 900, 1000, 45),
    "long": (63, 34, 1100, 1100, 60),
}
UVTS = ("60", "70", "80", "85", "90", "94", "96", "98", "99", "99.9")
LAMINAR_UVTS = ("70", "90", "98")
N_AIR, N_QUARTZ, N_WATER = mp.mpf("1.0003"), mp.mpf("1.5055"), mp.mpf("1.3757")
TRANSMITTANCE, WALL, AGEING, FOULING = mp.mpf("0.9"), mp.mpf("0.0015"), mp.mpf("0.8"), mp.mpf("0.85")
TARGET, RATE, TANKS = mp.mpf(400), mp.mpf("0.012"), mp.mpf(3)  # J/m2, m2/J, -


def passed(n_from, n_to, angle_from, angle_to):
    """Share that passes a face, of both polarisations alike."""
    c_from, c_to = mp.cos(angle_from), mp.cos(angle_to)
    across = ((n_from * c_from - n_to * c_to) / (n_from * c_from + n_to * c_to)) ** 2
    along = ((n_to * c_from - n_from * c_to) / (n_to * c_from + n_from * c_to)) ** 2
    return 1 - (across + along) / 2


class Ray:
    """A ray that leaves the lamp at an angle to the radius."""

    def __init__(self, angle, sleeve_radius, model):
        if model == "line_source":
            self.water, self.weight = angle, mp.cos(angle) / 2
            self.inside = sleeve_radius * mp.tan(angle)
            return
        quartz = mp.asin(mp.sin(angle) * N_AIR / N_QUARTZ)
        self.water = mp.asin(mp.sin(quartz) * N_QUARTZ / N_WATER)
        face = ((N_QUARTZ - N_AIR) / (N_QUARTZ + N_AIR)) ** 2
        dimming = mp.log((1 - face) ** 2 / TRANSMITTANCE) / WALL
        through = passed(N_AIR, N_QUARTZ, angle, quartz) * passed(N_QUARTZ, N_WATER, quartz, self.water)
        shape = 4 / mp.pi * mp.cos(angle) if model == "cosine_segments" else 1
        self.weight = shape * through * mp.exp(-dimming * WALL / mp.cos(quartz)) * mp.cos(angle) / 2
        self.inside = (sleeve_radius - WALL) * mp.tan(angle) + WALL * mp.tan(quartz)

    def reach(self, gap):
        """Axial way to the water behind a gap."""
        return self.inside + gap * mp.tan(self.water)


def angle_of_reach(reach, gap, sleeve_radius, model):
    """Angle at which a ray gets so far along the axis."""
    low, high = mp.mpf(0), mp.pi / 2
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if Ray(middle, sleeve_radius, model).reach(gap) < reach else (low, middle)
    return low


def over_angles(function, reaches, gaps, sleeve_radius, model):
    """Integrate over both sides of the lamp, cut where a ray meets a corner of arc, sleeve, wall and end plate."""
    cuts = {angle_of_reach(reach, gap, sleeve_radius, model) for reach in reaches for gap in gaps if reach > 0}
    # Angles crowd toward the axis of the lamp for long arcs; the tangent as sinh x spreads them.
    edges = sorted(mp.asinh(mp.tan(angle)) for angle in {mp.mpf(0), *cuts})
    return 2 * mp.quad(
        lambda x: function(mp.atan(mp.sinh(x))) / mp.cosh(x), edges, method="gauss-legendre", maxdegree=5
    )


def average(chamber, absorption, model):
    """Fluence rate averaged over the water, of 1 W from the lamp [W/m2]."""
    bore, sleeve, arc, length = chamber
    volume = mp.pi * (bore**2 - sleeve**2) * length
    if model == "radial":
        return TRANSMITTANCE * (1 - mp.exp(-absorption * (bore - sleeve))) / (absorption * volume)

    def of_angle(angle):
        ray = Ray(angle, sleeve, model)
        rise, slant = mp.tan(ray.water), mp.cos(ray.water)

        def track(ahead):
            """Integral of exp(-a s) along the ray in the water, the end plate so far ahead of the lamp point."""
            if ahead <= ray.inside:
                return mp.mpf(0)
            gap = bore - sleeve if angle == 0 else min(bore - sleeve, (ahead - ray.inside) / rise)
            return -mp.expm1(-absorption * gap / slant) / absorption

        nearest, farthest = (length - arc) / 2, (length + arc) / 2
        inner = [place for place in (ray.inside, ray.reach(bore - sleeve)) if nearest < place < farthest]
        edges = [nearest, *inner, farthest]
        return ray.weight * mp.quad(track, edges, method="gauss-legendre", maxdegree=4) / arc

    reaches = ((length - arc) / 2, (length + arc) / 2)
    share = TRANSMITTANCE if model == "line_source" else 1
    return share * over_angles(of_angle, reaches, (mp.mpf(0), bore - sleeve), sleeve, model) / volume


def along(chamber, absorption, model, radius):
    """Fluence rate averaged from end plate to end plate at a radius, of 1 W [W/m2]."""
    _, sleeve, arc, length = chamber

    def of_angle(angle):
        ray = Ray(angle, sleeve, model)
        reach = ray.reach(radius - sleeve)
        lit = max(mp.mpf(0), min(arc / 2, length / 2 - reach) + arc / 2)
        slant = mp.cos(ray.water)
        return ray.weight * mp.exp(-absorption * (radius - sleeve) / slant) / slant * lit / arc

    reaches = ((length - arc) / 2, (length + arc) / 2)
    share = TRANSMITTANCE if model == "line_source" else 1
    return share * over_angles(of_angle, reaches, (radius - sleeve,), sleeve, model) / (2 * mp.pi * radius * length)


def laminar_flow(chamber, absorption, model, power):
    """Flow whose unmixed laminar RED is the target [m3/s]."""
    bore, sleeve, _, length = chamber
    ratio = sleeve / bore
    constant = (1 - ratio**2) / mp.log(1 / ratio)
    section = mp.pi * (bore**2 - sleeve**2)
    streamlines = []
    points, weights = gauss_legendre(40)
    for point, weight in zip(points, weights, strict=True):
        # Nodes in the root of the way from the sleeve, where the light falls off steepest.
        radius = sleeve + (bore - sleeve) * point**2
        over_mean = 2 * (1 - (radius / bore) ** 2 - constant * mp.log(bore / radius)) / (1 + ratio**2 - constant)
        share = weight * 2 * point * (bore - sleeve) * 2 * radius * over_mean / (bore**2 - sleeve**2)
        product = power * along(chamber, absorption, model, radius) * length * section / over_mean
        streamlines.append((product, share))
    assert abs(sum(share for _, share in streamlines) - 1) < mp.mpf("1e-12")

    def excess(flow):
        alive = sum(share * mp.exp(-RATE * product / flow) for product, share in streamlines)
        return -mp.log(alive) / RATE - TARGET

    mean = sum(product * share for product, share in streamlines) / TARGET
    return mp.findroot(excess, (mean / 4, mean), solver="anderson", tol=1e-12)


def gauss_legendre(count):
    """Nodes and weights on 0 to 1."""
    nodes = mp.polyroots(mp.taylor(lambda x: mp.legendre(count, x), 0, count)[::-1], maxsteps=200, extraprec=300)
    points = sorted(mp.re(node) for node in nodes)
    weights = [2 / ((1 - x**2) * mp.diff(lambda t: mp.legendre(count, t), x) ** 2) for x in points]
    return [(x + 1) / 2 for x in points], [weight / 2 for weight in weights]


def flows(name, uvt, model):
    """Derated flows of a chamber under each hydraulics [L/min]."""
    bore, sleeve, arc, length, output = (mp.mpf(str(value)) for value in CHAMBERS[name])
    chamber = (bore / 2000, sleeve / 2000, arc / 1000, length / 1000)
    absorption = -mp.log(mp.mpf(uvt) / 100) * 100
    power = output * AGEING * FOULING
    volume = mp.pi * (chamber[0] ** 2 - chamber[1] ** 2) * chamber[3]
    product = power * average(chamber, absorption, model) * volume
    yield "plug_flow", 60000 * product / TARGET
    yield "tanks_in_series", 60000 * product / (TANKS / RATE * mp.expm1(RATE * TARGET / TANKS))
    if uvt in LAMINAR_UVTS and model == "refracted_line":
        yield "laminar", 60000 * laminar_flow(chamber, absorption, model, power)


def rows():
    """All rows of the file."""
    for name, sizes in CHAMBERS.items():
        for model in ("refracted_line", "cosine_segments", "line_source", "radial"):
            for uvt in UVTS:
                for hydraulics, flow in flows(name, uvt, model):
                    yield (name, *sizes, uvt, model, hydraulics, mp.nstr(flow, 12, strip_zeros=False), *SOURCE)


if __name__ == "__main__":
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow((*COLUMNS, *SOURCED))
    for row in rows():
        writer.writerow(row)
        sys.stdout.flush()
