"""Light of a tube in air on a plane under water: refracted at a flat surface, partly reflected.

Water makes a lamp seem higher than it is: straight below, a depth z counts as z/n. Without that, geometry
that is divided out of readings would take so much away that most waters would seem to make light.
"""

from __future__ import annotations

from photoperiod.arrays import Floats, np

#: Refractive index of sea water at 20 °C, 35 g/kg and 589 nm, to two decimals; from memory.
SEA_WATER = 1.34

#: A tube is taken as so many pieces (Gauss and Legendre).
PIECES = 48

#: Newton's steps to the ray from a piece to a point. They come nearer from one side, and end when they stand.
MOST_STEPS, STEP_ENDS = 60, 1e-13

#: Rays flatter than this are no light [tangent of the angle to the vertical].
FLATTEST = 1e6


def tube_under_water(
    low_m: Floats,
    high_m: Floats,
    aside_m: Floats,
    height_m: float,
    depth_m: Floats,
    index: float = SEA_WATER,
) -> Floats:
    """Return E/I′ of a tube at points under water that takes nothing. [1/m]

    The closed form for air (`line_source`) times what refraction makes of it, piece by piece.

    Parameters
    ----------
    low_m, high_m : ndarray, shape (points,)
        Where the ends of the tube are along its axis, from each point. [m]
    aside_m, depth_m : ndarray, shape (points,)
        How far each point is from the vertical plane of the tube, and below the surface. [m]
    height_m : float
        Of the tube above the surface; 0 or more, but not 0 over a point at the surface. [m]
    index : float
        Refractive index of the water.
    """
    whole = line_source(low_m, high_m, aside_m, height_m + depth_m)
    nodes, weights = np.polynomial.legendre.leggauss(PIECES)
    along = (low_m[:, None] + high_m[:, None]) / 2 + (high_m - low_m)[:, None] / 2 * nodes
    across = np.hypot(along, aside_m[:, None])
    bent = _piece(along, across, height_m, depth_m[:, None], index) @ weights
    straight = _piece(along, across, height_m, depth_m[:, None], 1.0) @ weights
    light: Floats = whole * bent / straight
    return light


def line_source(low_m: Floats, high_m: Floats, aside_m: Floats, below_m: Floats) -> Floats:
    """Return E/I′ of a tube on a horizontal plane in air, in closed form. [1/m]

    E = (I′/r) cos φ ½ [θ + sin θ cos θ] between the ends of the tube, with r the distance to its line and φ
    the angle of r to the vertical, for a tube with cosine distribution.
    """
    r = np.hypot(below_m, aside_m)
    low, high = (
        angle + np.sin(angle) * np.cos(angle)
        for angle in (np.arctan(low_m / r), np.arctan(high_m / r))
    )
    light: Floats = below_m / r * (high - low) / 2 / r
    return light


def _piece(along: Floats, across: Floats, height: float, depth: Floats, index: float) -> Floats:
    """Return E of a piece of tube with I′ = 1, so far along its axis and across the water. [m]

    With w the tangent of the ray's angle in air, it comes down at s = h w + z w/√A, A = n² + (n² − 1) w², and
    the light of a solid angle dω = w (1 + w²)^(−3/2) dw dφ falls on an area s ds dφ.
    """
    w = _tangent(across, height, depth, index)
    a = index**2 + (index**2 - 1.0) * w**2
    by_s = 1.0 / (height + depth / np.sqrt(a))  # w/s, also straight below
    by_ds = 1.0 / (height + depth * index**2 / a**1.5)
    cos = 1.0 / np.sqrt(1.0 + w**2)
    strength = np.sqrt(np.maximum(1.0 - (along * by_s * cos) ** 2, 0.0))  # cosine to the axis
    through: Floats = strength * (1.0 - reflected(cos, index)) * cos**3 * by_s * by_ds
    return np.where(w < FLATTEST, through, 0.0)


def _tangent(across: Floats, height: float, depth: Floats, index: float) -> Floats:
    """Return the tangent of the angle in air of the ray that comes down so far across.

    s(w) rises and bends down, so that Newton's steps from below stay below.
    """
    w = across / (height + depth / index)
    for _ in range(MOST_STEPS):
        a = index**2 + (index**2 - 1.0) * w**2
        slope = height + depth * index**2 / a**1.5
        step = (across - w * (height + depth / np.sqrt(a))) / np.maximum(slope, 1e-12)
        w = np.minimum(w + step, FLATTEST)
        if not (step > STEP_ENDS * (1.0 + w)).any():
            break
    return w


def reflected(cos: Floats, index: float = SEA_WATER) -> Floats:
    """Return the share of unpolarised light that a flat surface reflects, by Fresnel.

    Parameters
    ----------
    cos : ndarray
        Cosine of the angle in air between ray and vertical.
    index : float
        Refractive index of the water.

    Examples
    --------
    >>> round(float(reflected(np.array(1.0))) * 100, 3)  # straight down
    2.111
    """
    inside = np.sqrt(1.0 - (1.0 - cos**2) / index**2)
    across = (cos - index * inside) / (cos + index * inside)
    along = (index * cos - inside) / (index * cos + inside)
    return (across**2 + along**2) / 2.0
