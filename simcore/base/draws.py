"""Addressed random numbers: every draw is a pure function of where it is used.

A draw is addressed by (seed, run, purpose, index) and comes from Philox4x64-10
(Salmon, Moraes, Dror and Shaw, "Parallel random numbers: as easy as 1, 2, 3",
SC 2011): the key is (seed, run), the counter (index, purpose, 0, 0).  Nothing is
consumed in order, so one more bounce at one transition changes no other draw, and
two designs under one seed meet the same hand, the same bounce and the same parts.

``philox`` and ``four`` are plain Python on unbounded integers; compiled code gets the
same integers from 64-bit arithmetic (``_teach_four``).
"""

from __future__ import annotations

import hashlib
import math
from typing import NamedTuple

from simcore.base.compiling import rule, special

MULTIPLIER_0 = 0xD2E7470EE14C6C93
MULTIPLIER_1 = 0xCA5A826395121157
WEYL_0 = 0x9E3779B97F4A7C15
WEYL_1 = 0xBB67AE8584CAA73B
ROUNDS = 10
MASK = 0xFFFFFFFFFFFFFFFF
UNIT = 1.0 / 9007199254740992.0  # 2 to the power -53

# What a draw is for.  The lower 16 bits of a purpose are free for an item number
# (a line, a gesture), those from 22 on for an address by name (a stage), see `purpose`.
GEOMETRY = 1
MOVE = 2
HEADING = 3
BURST = 4
SLIDE = 5
RESISTANCE = 6
SUPPLY = 7
STAGE = 8
COIN = 9
NOISE_DRAW = 10
PICKUP = 11
CLOCK_PHASE = 12
DRIVEN = 13
SHAKE = 30
REVERSAL = 31
MIX = 32

ITEMS = 65536
NAMED = 64 * ITEMS
"""Above every code and item: addresses of what has a name are whole multiples of this."""


class Part(NamedTuple):
    """A part's nominal value and its tolerance as a fraction (0.05 is 5 %)."""

    nominal: float
    tolerance: float


def philox(counter: tuple[int, int, int, int], key: tuple[int, int]) -> tuple[int, int, int, int]:
    """Philox4x64-10: four 64-bit words for a counter of four and a key of two words."""
    c0, c1, c2, c3 = counter
    k0, k1 = key
    for _ in range(ROUNDS):
        p0 = MULTIPLIER_0 * c0
        p1 = MULTIPLIER_1 * c2
        c0, c1, c2, c3 = (p1 >> 64) ^ c1 ^ k0, p1 & MASK, (p0 >> 64) ^ c3 ^ k1, p0 & MASK
        k0 = (k0 + WEYL_0) & MASK
        k1 = (k1 + WEYL_1) & MASK
    return c0, c1, c2, c3


def four(seed: int, run: int, purpose: int, index: int) -> tuple[float, float, float, float]:
    """Four numbers, uniform on [0, 1) in steps of 2**-53, at one address (all >= 0)."""
    words = philox((int(index), int(purpose), 0, 0), (int(seed), int(run)))
    a, b, c, d = ((word >> 11) * UNIT for word in words)
    return a, b, c, d


@special
def _teach_four() -> None:
    """Give compiled code the same words through one 64 x 64 -> 128 bit multiplication."""
    import numpy as np
    from llvmlite import ir
    from numba.core import types
    from numba.extending import intrinsic, overload

    m0, m1 = np.uint64(MULTIPLIER_0), np.uint64(MULTIPLIER_1)
    w0, w1 = np.uint64(WEYL_0), np.uint64(WEYL_1)
    zero, eleven = np.uint64(0), np.uint64(11)

    @intrinsic
    def high(context, x, y):  # type: ignore[no-untyped-def]
        def generate(context, builder, signature, arguments):  # type: ignore[no-untyped-def]
            wide = ir.IntType(128)
            product = builder.mul(builder.zext(arguments[0], wide), builder.zext(arguments[1], wide))
            upper = builder.lshr(product, ir.Constant(wide, 64))
            return builder.trunc(upper, ir.IntType(64))

        return types.uint64(types.uint64, types.uint64), generate

    @overload(four)
    def choose(seed, run, purpose, index):  # type: ignore[no-untyped-def]
        def compiled(seed, run, purpose, index):  # type: ignore[no-untyped-def]
            c0, c1, c2, c3 = np.uint64(index), np.uint64(purpose), zero, zero
            k0, k1 = np.uint64(seed), np.uint64(run)
            for _ in range(ROUNDS):
                h0, l0 = high(m0, c0), m0 * c0
                h1, l1 = high(m1, c2), m1 * c2
                c0, c1, c2, c3 = h1 ^ c1 ^ k0, l1, h0 ^ c3 ^ k1, l0
                k0 += w0
                k1 += w1
            return (
                np.float64(c0 >> eleven) * UNIT,
                np.float64(c1 >> eleven) * UNIT,
                np.float64(c2 >> eleven) * UNIT,
                np.float64(c3 >> eleven) * UNIT,
            )

        return compiled


@rule
def purpose(code: int, item: int) -> int:
    """One purpose number from a code above and the item it is drawn for: 0 to 65535, or as much above
    a `named_address`.
    """
    return code * ITEMS + item


def named_address(name: str, again: int = 0) -> int:
    """The address of a named item: an item number that depends on the name alone, so that one more stage in
    front leaves the draws of all others unchanged.  The items up to ITEMS - 1 above
    it are its own; ``again`` gives others for the same name.

    The name's 40-bit digest (BLAKE2b, RFC 7693).
    """
    text = f"{name}\0{again}" if again else name
    digest = hashlib.blake2b(text.encode("utf-8", "surrogatepass"), digest_size=5).digest()
    return (1 + int.from_bytes(digest, "big")) * NAMED


@rule
def normal_pair(u: float, v: float) -> tuple[float, float]:
    """Two independent standard normals from two uniforms (Box and Muller, 1958)."""
    radius = math.sqrt(-2.0 * math.log(1.0 - u))
    angle = 6.283185307179586 * v
    return radius * math.cos(angle), radius * math.sin(angle)


@rule
def lognormal(median: float, spread: float, normal: float) -> float:
    """Lognormal value: ``spread`` is the standard deviation of the natural logarithm."""
    if spread == 0.0:
        return median
    return median * math.exp(spread * normal)


@rule
def poisson(mean: float, most: int, u: float) -> int:
    """Poisson count by inversion of one uniform, cut off at ``most``."""
    if mean <= 0.0:
        return 0
    term = math.exp(-mean)
    total = term
    count = 0
    while u >= total and count < most:
        count += 1
        term *= mean / count
        total += term
    return count


@rule
def between(low: float, high: float, u: float) -> float:
    return low + (high - low) * u


@rule
def toleranced(part: Part, u: float) -> float:
    """A part's value, uniform within its tolerance.

    A rectangular law is what JCGM 101:2008, 6.4.2 assigns when only limits are known.
    """
    return part.nominal * (1.0 + part.tolerance * (2.0 * u - 1.0))
