"""How the shaft travels within one movement: minimum jerk, detent ripple, and their inverses.

``f`` is the share of the way done, ``s`` the share of the time gone, both 0 to 1.
"""

import math

from simcore.compiling import rule

TWO_PI = 6.283185307179586


@rule
def minimum_jerk(s: float) -> float:
    """Share of the way done at time share ``s`` (Flash and Hogan, J. Neurosci. 5 (1985) 1688)."""
    return s * s * s * (10.0 + s * (6.0 * s - 15.0))


@rule
def minimum_jerk_speed(s: float) -> float:
    """Speed in units of the mean speed: 30 s^2 (1 - s)^2, at most 1.875."""
    return 30.0 * s * s * (1.0 - s) * (1.0 - s)


@rule
def minimum_jerk_time(f: float) -> float:
    """The time share at which a minimum-jerk move has done the share ``f`` of its way.

    Near the start f = 10 s^3, so a polynomial in the cube root of ``f`` (our own
    least-squares fit, good to 3 parts in 10,000) starts Newton's method so close that two
    steps reach the last digits (each squares the relative error).
    """
    if f <= 0.0:
        return 0.0
    if f >= 1.0:
        return 1.0
    near = f if f <= 0.5 else 1.0 - f
    y: float = near**0.3333333333333333
    s = y * (0.46411 + y * (0.112975 + y * (-0.013037 + y * (0.336356 + y * (0.401648 * y - 0.530353)))))
    s -= (minimum_jerk(s) - near) / minimum_jerk_speed(s)
    s -= (minimum_jerk(s) - near) / minimum_jerk_speed(s)
    return s if f <= 0.5 else 1.0 - s


CLOSE = 1.0e-8
"""A Newton step this small leaves an error of about its square."""


@rule
def ripple_place(turned: float, ripple: float) -> float:
    """Smooth progress ``u`` (steps) at which the shaft has really turned ``turned`` steps.

    Solves turned = u - (ripple / 2 pi) sin(2 pi u), 0 <= ripple < 1: the detents slow the
    shaft at rest positions and speed it up between them.  Newton's method inside a bracket
    that always holds the root.
    """
    if ripple == 0.0:
        return turned
    reach = ripple / TWO_PI
    low, high = turned - reach, turned + reach
    u = turned + reach * math.sin(TWO_PI * turned)
    for _ in range(60):
        error = u - reach * math.sin(TWO_PI * u) - turned
        if error > 0.0:
            high = u
        else:
            low = u
        following = u - error / (1.0 - ripple * math.cos(TWO_PI * u))
        if following < low or following > high:
            following = 0.5 * (low + high)
        step = abs(following - u)
        u = following
        if step < CLOSE:
            break
    return u


@rule
def ripple_speed(u: float, ripple: float) -> float:
    """Speed of the shaft in units of the smooth speed at smooth progress ``u`` (steps)."""
    return 1.0 - ripple * math.cos(TWO_PI * u)
