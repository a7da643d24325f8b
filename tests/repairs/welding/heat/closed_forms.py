"""Closed forms of heat conduction the model is held against. SI units, properties constant.

Carslaw and Jaeger, Conduction of Heat in Solids, 2nd edition, sections 3.11 and 10.2 to 10.7;
Rosenthal's moving sources as printed in public course notes. A surface that loses no heat doubles
what a source in an endless body gives.
"""

from math import cos, exp, pi, sin, sqrt

from scipy.optimize import brentq
from scipy.special import k0e


def point_rise(joules: float, distance_m: float, seconds: float, k: float, rho_c: float) -> float:
    """Rise from heat let go at once at a point of the surface of a thick body."""
    a = k / rho_c
    whole = joules / (rho_c * (4 * pi * a * seconds) ** 1.5)
    return 2 * whole * exp(-(distance_m**2) / (4 * a * seconds))


def line_rise(j_per_m: float, distance_m: float, seconds: float, k: float, rho_c: float) -> float:
    """Rise from heat let go at once along a line on the surface of a thick body."""
    a = k / rho_c
    return j_per_m / (2 * pi * k * seconds) * exp(-(distance_m**2) / (4 * a * seconds))


def line_peak(j_per_m: float, distance_m: float, rho_c: float) -> tuple[float, float]:
    """Peak of ``line_rise``, 2 Q / (pi e rho c r2), and r2 / 4 as the product of a and its time."""
    return 2 * j_per_m / (pi * exp(1) * rho_c * distance_m**2), distance_m**2 / 4


def thick_plate(
    watts: float, speed: float, k: float, rho_c: float, ahead: float, aside: float, deep: float
) -> float:
    """Rise round a point source that has long moved along the surface of a thick plate (Rosenthal).

    ``ahead`` is the distance in front of the source, in its direction of travel.
    """
    distance = sqrt(ahead**2 + aside**2 + deep**2)
    a = k / rho_c
    return watts / (2 * pi * k * distance) * exp(-speed * (distance + ahead) / (2 * a))


def thin_plate(
    watts: float, speed: float, k: float, rho_c: float, ahead: float, aside: float, thick: float
) -> float:
    """Rise round a line source that has long moved along a thin plate (Rosenthal)."""
    distance, a = sqrt(ahead**2 + aside**2), k / rho_c
    turned = speed / (2 * a)
    # The scaled function: far behind the source K0 and the exponential leave the range of floats.
    scaled = float(k0e(turned * distance)) * exp(-turned * (distance + ahead))
    return watts / (2 * pi * k * thick) * scaled


def slab_share(
    depth_share: float, thick: float, seconds: float, k: float, rho_c: float, loss: float
) -> float:
    """Share of its first excess over the air that a slab losing heat at one face still has.

    Eigenfunctions cos(z x / L) with z tan z = Bi, x from the face that loses none; thirty terms.
    """
    biot, fourier = loss * thick / k, k / rho_c * seconds / thick**2
    total = 0.0
    for n in range(30):
        root = brentq(lambda z: z * sin(z) - biot * cos(z), n * pi + 1e-12, n * pi + pi / 2 - 1e-12)
        size = 4 * sin(root) / (2 * root + sin(2 * root))
        total += size * exp(-(root**2) * fourier) * cos(root * depth_share)
    return total


def thick_cooling_s(line_j_per_m: float, k: float, start_degc: float) -> float:
    """Seconds from 800 to 500 degC on the weld line of a thick plate."""
    return line_j_per_m / (2 * pi * k) * (1 / (500 - start_degc) - 1 / (800 - start_degc))
