/* Addressed random numbers and the laws drawn from them; the rules are those of simcore/draws.py.
 *
 * Philox4x64-10: Salmon, Moraes, Dror and Shaw, "Parallel random numbers: as easy as 1, 2, 3", SC 2011.
 */
#ifndef YARDSTICK_DRAWS_H
#define YARDSTICK_DRAWS_H

#include <math.h>
#include <stdint.h>

#define INLINE static inline __attribute__((always_inline))

enum { GEOMETRY = 1, MOVE, HEADING, BURST, SLIDE, RESISTANCE, SUPPLY, STAGE, COIN };

static const double TWO_PI = 6.283185307179586;
static const int64_t NEVER = INT64_MAX;

typedef struct {
    double nominal, tolerance;
} Part;

typedef struct {
    double u[4];
} Four;

/* What every draw of one run is keyed by. */
typedef struct {
    uint64_t seed, run;
} Key;

INLINE double unit(uint64_t word) { return (double)(int64_t)(word >> 11) * (1.0 / 9007199254740992.0); }

/* Four numbers, uniform on [0, 1), at one address. */
INLINE Four four(Key key, uint64_t code, uint64_t item, uint64_t index) {
    const uint64_t multiplier_0 = 0xD2E7470EE14C6C93u, multiplier_1 = 0xCA5A826395121157u;
    uint64_t c0 = index, c1 = code * 65536u + item, c2 = 0, c3 = 0;
    uint64_t k0 = key.seed, k1 = key.run;
#pragma GCC unroll 10
    for (int round = 0; round < 10; round++) {
        unsigned __int128 p0 = (unsigned __int128)multiplier_0 * c0;
        unsigned __int128 p1 = (unsigned __int128)multiplier_1 * c2;
        c0 = (uint64_t)(p1 >> 64) ^ c1 ^ k0;
        c1 = (uint64_t)p1;
        c2 = (uint64_t)(p0 >> 64) ^ c3 ^ k1;
        c3 = (uint64_t)p0;
        k0 += 0x9E3779B97F4A7C15u;
        k1 += 0xBB67AE8584CAA73Bu;
    }
    return (Four){{unit(c0), unit(c1), unit(c2), unit(c3)}};
}

INLINE int64_t lesser(int64_t x, int64_t y) { return x < y ? x : y; }
INLINE int64_t greater(int64_t x, int64_t y) { return x > y ? x : y; }

/* Seconds (not below 0) rounded to whole picoseconds; for such, cutting off is rounding down. */
INLINE int64_t ticks(double seconds) { return (int64_t)(seconds * 1.0e12 + 0.5); }

INLINE double between(double low, double high, double u) { return low + (high - low) * u; }

INLINE double toleranced(Part part, double u) {
    return part.nominal * (1.0 + part.tolerance * (2.0 * u - 1.0));
}

INLINE double lognormal(double median, double spread, double normal) {
    return spread == 0.0 ? median : median * exp(spread * normal);
}

/* Two normals from two uniforms (Box and Muller, 1958); one that is not used costs nothing. */
INLINE void normal_pair(double u, double v, double *first, double *second) {
    double radius = sqrt(-2.0 * log(1.0 - u));
    double angle = TWO_PI * v;
    *first = radius * cos(angle);
    *second = radius * sin(angle);
}

/* Poisson count by inversion; ``none`` is exp(-mean), so that a constant mean costs one exponential. */
INLINE int64_t poisson(double mean, double none, int64_t most, double u) {
    double term = none, total = none;
    int64_t count = 0;
    if (mean <= 0.0) return 0;
    while (u >= total && count < most) {
        count++;
        term *= mean / (double)count;
        total += term;
    }
    return count;
}

#endif
