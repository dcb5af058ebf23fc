/* A transition becomes a burst of changes of one contact: see simcore/contacts.py, the wiping contact. */
#ifndef YARDSTICK_CONTACTS_H
#define YARDSTICK_CONTACTS_H

#include "room.h"

enum { MAIN, ZONE, REBOUND, PACKET, STRAGGLER, SLIDING };
enum { MOST_PAIRS = 200, MOST_PACKETS = 8, MOST_SLIDES = 64, ADDRESSES = 4096, FLIGHTS = 48 };
enum { SCRATCH = 2 * MOST_PAIRS * (MOST_PACKETS + 2) + 2 * MOST_SLIDES + 256 };

typedef struct {
    double zone, pairs, rebound, flight, restitution, pause, packets, packet_pairs, packet_length;
    double gap_low, gap_high, straggler, straggler_low, straggler_high, straggler_length;
} Side;

typedef struct {
    Side make, break_;
} Wiping;

typedef struct {
    double rate, length, length_spread, most, angle;
} Sliding;

/* One side of the contact with the exponentials of its constant means. */
typedef struct {
    Side side;
    double no_pairs, no_packets, no_packet_pairs;
} Habits;

/* Changes as ticks after the crossing, each with its origin. */
typedef struct {
    int64_t times[SCRATCH];
    uint8_t origins[SCRATCH];
    int64_t count;
} Burst;

typedef struct {
    Key key;
    uint64_t channel, address;
    double speed;
    int64_t glide, room;
} Crossing;

static Habits habits_of(Side side) {
    return (Habits){side, exp(-side.pairs), exp(-side.packets), exp(-side.packet_pairs)};
}

INLINE Four block(const Crossing *at, int64_t k) {
    return four(at->key, BURST, at->channel, at->address + (uint64_t)k);
}

/* Append changes, uniform over ``length`` ticks from ``start``, in order. */
static void scatter(Burst *burst, const Crossing *at, int64_t k, int64_t count, int64_t start, double length,
                    uint8_t origin) {
    int64_t *times = burst->times + burst->count;
    for (int64_t base = 0; base < count; base += 4, k++) {
        Four d = block(at, k);
        int64_t stop = lesser(base + 4, count);
        for (int64_t i = base; i < stop; i++) {
            int64_t t = start + (int64_t)(length * d.u[i - base]);
            int64_t place = i;
            while (place > 0 && times[place - 1] > t) {
                times[place] = times[place - 1];
                place--;
            }
            times[place] = t;
            burst->origins[burst->count + i] = origin;
        }
    }
    burst->count += count;
}

INLINE void append(Burst *burst, int64_t time, uint8_t origin) {
    burst->times[burst->count] = time;
    burst->origins[burst->count++] = origin;
}

static void rebound(Burst *burst, const Side *side, double scale, double wait) {
    double flight = side->flight * scale, pause = side->pause * wait;
    int64_t at = burst->times[burst->count - 1];
    for (int k = 0; k < FLIGHTS && flight >= 2.0e-6; k++) {
        at += ticks(pause);
        append(burst, at, REBOUND);
        at += ticks(flight);
        append(burst, at, REBOUND);
        flight *= side->restitution;
        pause *= side->restitution;
    }
}

static void packets(Burst *burst, const Habits *habits, const Crossing *at, int64_t count) {
    const Side *side = &habits->side;
    for (int64_t number = 0; number < count; number++) {
        int64_t k = 1024 + 256 * number;
        Four d = block(at, k);
        int64_t pairs = greater(1, poisson(side->packet_pairs, habits->no_packet_pairs, MOST_PAIRS, d.u[0]));
        int64_t gap = ticks(between(side->gap_low, side->gap_high, d.u[1]));
        int64_t start = burst->times[burst->count - 1] + gap;
        scatter(burst, at, k + 1, 2 * pairs, start, side->packet_length * 1.0e12, PACKET);
    }
}

static void straggler(Burst *burst, const Side *side, const Crossing *at) {
    Four d = block(at, 4000);
    int64_t start = ticks(between(side->straggler_low, side->straggler_high, d.u[0]));
    if (start <= burst->times[burst->count - 1]) return;
    append(burst, start, STRAGGLER);
    append(burst, start + greater(ticks(side->straggler_length * d.u[1]), 1), STRAGGLER);
}

static void wiping_burst(Burst *burst, const Habits *habits, const Crossing *at) {
    const Side *side = &habits->side;
    burst->count = 0;
    append(burst, 0, MAIN);
    Four d = block(at, 0);
    int64_t pairs = poisson(side->pairs, habits->no_pairs, MOST_PAIRS, d.u[0]);
    if (pairs > 0) {
        double length = (double)at->glide;
        if (side->zone * 1.0e12 < at->speed * length) length = side->zone * 1.0e12 / at->speed;
        scatter(burst, at, 2, 2 * pairs, 0, length, ZONE);
    }
    if (d.u[1] < side->rebound) rebound(burst, side, 0.5 + d.u[2], 0.5 + d.u[3]);
    if (side->packets > 0.0 || side->straggler > 0.0) {
        Four v = block(at, 1);
        packets(burst, habits, at, poisson(side->packets, habits->no_packets, MOST_PACKETS, v.u[0]));
        if (v.u[1] < side->straggler) straggler(burst, side, at);
    }
}

/* Drop opens that begin inside the one before or end after the slide. */
static void join_slides(Burst *burst, int64_t start, int64_t end) {
    int64_t kept = start, *times = burst->times;
    for (int64_t i = start; i < burst->count; i += 2) {
        int after = kept == start || times[i] > times[kept - 1];
        if (!after || times[i + 1] >= end) continue;
        times[kept] = times[i];
        times[kept + 1] = times[i + 1];
        burst->origins[kept] = burst->origins[kept + 1] = SLIDING;
        kept += 2;
    }
    burst->count = kept;
}

/* Append short opens between the end of the burst and the end of the slide. */
static void slides(Burst *burst, const Sliding *sliding, const Crossing *at, double travel) {
    int64_t end = lesser(at->glide, at->room), begin = burst->times[burst->count - 1];
    double mean = sliding->rate * travel / 360.0;
    Four d = four(at->key, SLIDE, at->channel, at->address);
    int64_t count = poisson(mean, exp(-mean), MOST_SLIDES, d.u[0]);
    if (count == 0 || end <= begin) return;
    int64_t start = burst->count, *times = burst->times;
    double slow = 1.0e-12 * sliding->angle * (double)end / travel;
    for (int64_t i = 0; i < count; i++) {
        double stretch, unused;
        d = four(at->key, SLIDE, at->channel, at->address + 1 + (uint64_t)i);
        normal_pair(d.u[1], d.u[2], &stretch, &unused);
        int64_t opens = begin + (int64_t)((double)(end - begin) * d.u[0]);
        double drawn = lognormal(sliding->length, sliding->length_spread, stretch);
        double seconds = fmin(drawn + slow, sliding->most);
        int64_t j = burst->count;
        for (; j > start && times[j - 2] > opens; j -= 2) {
            times[j] = times[j - 2];
            times[j + 1] = times[j - 1];
        }
        times[j] = opens;
        times[j + 1] = opens + greater(ticks(seconds), 1);
        burst->count += 2;
    }
    join_slides(burst, start, end);
}

#endif
