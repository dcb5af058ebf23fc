"""How the shaft travels within one movement: minimum jerk, detent ripple, and their inverses.

``f`` is the share of the way done, ``s`` the share of the time gone, both 0 to 1.
"""

import itertools
import math
from collections.abc import Sequence

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


@rule
def cubic_share(s: float, enter: float, leave: float) -> float:
    """Share of the way done at time share ``s`` of a cubic that begins with the speed ``enter`` and
    ends with ``leave``, both in units of the mean speed; it never turns back while both are 0 to 3.
    """
    return s * (enter + s * (3.0 - 2.0 * enter - leave + s * (enter + leave - 2.0)))


@rule
def cubic_speed(s: float, enter: float, leave: float) -> float:
    """Speed of that cubic in units of the mean speed."""
    return enter + s * (2.0 * (3.0 - 2.0 * enter - leave) + 3.0 * s * (enter + leave - 2.0))


@rule
def cubic_time(f: float, enter: float, leave: float) -> float:
    """The time share at which that cubic has done the share ``f`` of its way, to the last digits:
    Newton's method inside a bracket that always holds the root.
    """
    if f <= 0.0:
        return 0.0
    if f >= 1.0:
        return 1.0
    low, high, s = 0.0, 1.0, f
    for _ in range(100):
        error = cubic_share(s, enter, leave) - f
        if error > 0.0:
            high = s
        else:
            low = s
        slope = cubic_speed(s, enter, leave)
        following = s - error / slope if slope > 0.0 else -1.0
        if following <= low or following >= high:
            following = 0.5 * (low + high)
        if abs(following - s) < 1.0e-16:
            break
        s = following
    return s


def table_speeds(times: Sequence[float], places: Sequence[float]) -> list[float]:
    """Speeds at the points of a table through which a smooth path runs, at rest at both ends.

    The weighted harmonic mean of the slopes on either side, 0 where these differ in sign, after
    F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300: the path then turns back
    nowhere but at points of the table.
    """
    spans = [after - before for before, after in itertools.pairwise(times)]
    slopes = [(b - a) / span for (a, b), span in zip(itertools.pairwise(places), spans, strict=True)]
    speeds = [0.0]
    for i in range(1, len(spans)):
        before, after = slopes[i - 1], slopes[i]
        if before * after <= 0.0:
            speeds.append(0.0)
            continue
        one, other = 2.0 * spans[i] + spans[i - 1], spans[i] + 2.0 * spans[i - 1]
        speeds.append((one + other) / (one / before + other / after))
    return [*speeds, 0.0]
