/* Gestures become movements, movements become transitions of one run: see simcore/shaft.py, paths.py. */
#ifndef YARDSTICK_SHAFT_H
#define YARDSTICK_SHAFT_H

#include "room.h"

enum { ROCK = 4 };
enum { EITHER = 0, ALTERNATE = 2 };

static const int64_t LEAD = 10000000000;

typedef struct {
    double steps_per_turn, cycles_per_step, closed, closed_spread, phase, phase_spread, rest, rest_spread;
} Geometry;

typedef struct {
    int64_t kind, moves;
    double steps, steps_low;
    int64_t heading;
    double duration, duration_spread, dwell, dwell_spread;
    int64_t steady;
    double ripple;
} Gesture;

typedef struct {
    Gesture gesture;
    int64_t moves;
} HandEntry;

/* One movement as it is crossed. */
typedef struct {
    int64_t start, end, first_step, last_step;
    double place, target, ripple, pitch, degrees;
    int steady;
} Way;

typedef struct {
    double angle[4];
} Angles;

INLINE double minimum_jerk(double s) { return s * s * s * (10.0 + s * (6.0 * s - 15.0)); }

INLINE double minimum_jerk_speed(double s) { return 30.0 * s * s * (1.0 - s) * (1.0 - s); }

static double minimum_jerk_time(double f) {
    if (f <= 0.0) return 0.0;
    if (f >= 1.0) return 1.0;
    double near = f <= 0.5 ? f : 1.0 - f;
    double y = pow(near, 0.3333333333333333);
    double tail = -0.013037 + y * (0.336356 + y * (0.401648 * y - 0.530353));
    double s = y * (0.46411 + y * (0.112975 + y * tail));
    s -= (minimum_jerk(s) - near) / minimum_jerk_speed(s);
    s -= (minimum_jerk(s) - near) / minimum_jerk_speed(s);
    return f <= 0.5 ? s : 1.0 - s;
}

static double ripple_place(double turned, double ripple) {
    if (ripple == 0.0) return turned;
    double reach = ripple / TWO_PI;
    double low = turned - reach, high = turned + reach;
    double u = turned + reach * sin(TWO_PI * turned);
    for (int i = 0; i < 60; i++) {
        double error = u - reach * sin(TWO_PI * u) - turned;
        if (error > 0.0)
            high = u;
        else
            low = u;
        double following = u - error / (1.0 - ripple * cos(TWO_PI * u));
        if (following < low || following > high) following = 0.5 * (low + high);
        double step = fabs(following - u);
        u = following;
        if (step < 1.0e-8) break;
    }
    return u;
}

INLINE double ripple_speed(double u, double ripple) { return 1.0 - ripple * cos(TWO_PI * u); }

static Angles boundaries(const Geometry *g, Key key) {
    Four d = four(key, GEOMETRY, 0, 0);
    double closed_a = g->closed + g->closed_spread * (2.0 * d.u[0] - 1.0);
    double closed_b = g->closed + g->closed_spread * (2.0 * d.u[1] - 1.0);
    double phase = g->phase + g->phase_spread * (2.0 * d.u[2] - 1.0);
    double rest = g->rest + g->rest_spread * (2.0 * d.u[3] - 1.0);
    double middle_a = 0.5 - 0.5 * phase - rest;
    double middle_b = 0.5 + 0.5 * phase - rest;
    return (Angles){{middle_a - 0.5 * closed_a, middle_b - 0.5 * closed_b, middle_a + 0.5 * closed_a,
                     middle_b + 0.5 * closed_b}};
}

INLINE double boundary_place(const Angles *angles, double pitch, int64_t j) {
    return (angles->angle[j & 3] + (double)(j >> 2)) / pitch;
}

INLINE double snapped(double place) {
    double near = floor(place + 0.5);
    return fabs(place - near) < 1.0e-9 ? near : place;
}

static void open_steps(Run *run, double distance, int64_t gesture) {
    double length = fabs(distance);
    int64_t count = (int64_t)ceil(length - 1.0e-9);
    need_steps(run, run->step_count + count);
    for (int64_t i = 0; i < count; i++) {
        run->steps[run->step_count++] = (Step){
            .gesture = (int32_t)gesture,
            .direction = distance > 0.0 ? 1 : -1,
            .complete = (double)(i + 1) <= length + 1.0e-9,
            .spacing = NEVER,
            .start_known = 0,
        };
    }
}

/* Fill one transition; returns its tick. */
static int64_t write_transition(Transition *out, const Way *way, const Angles *angles, int64_t crossed,
                                double at, int64_t latest) {
    int up = way->target > way->place;
    double distance = fabs(way->target - way->place);
    double beyond = boundary_place(angles, way->pitch, crossed + (up ? 2 : -2));
    double turned = fmin(fabs(at - way->place), distance);
    double smooth = ripple_place(turned, way->ripple);
    double pace = way->ripple == 0.0 ? 1.0 : ripple_speed(smooth, way->ripple);
    double share = smooth / distance;
    if (way->steady) {
        share = fmin(share, 1.0);
    } else {
        share = minimum_jerk_time(share);
        pace = pace * minimum_jerk_speed(share);
    }
    double duration = (double)(way->end - way->start);
    int part = (int)(crossed & 3);
    out->time = greater(way->start + (int64_t)(share * duration + 0.5), latest);
    out->channel = (int8_t)(part & 1);
    out->closed = (int8_t)((part < 2) == up);
    out->step = (int32_t)lesser(way->first_step + (int64_t)turned, way->last_step);
    out->direction = up ? 1 : -1;
    out->speed = pace * distance * way->degrees * 1.0e12 / duration;
    out->until = way->end;
    out->travel = fmin(fabs(beyond - at), fabs(way->target - at)) * way->degrees;
    return out->time;
}

/* Write all transitions of one movement; ``j`` is the next boundary upward. */
static void cross_move(Run *run, const Way *way, const Angles *angles, int64_t *j, int64_t *latest) {
    int up = way->target > way->place;
    while (way->target != way->place) {
        int64_t crossed = up ? *j : *j - 1;
        double at = boundary_place(angles, way->pitch, crossed);
        if (up ? at > way->target : at <= way->target) break;
        need_transitions(run, run->transition_count + 1);
        Transition *out = &run->transitions[run->transition_count++];
        int64_t time = write_transition(out, way, angles, crossed, at, *latest);
        Step *step = &run->steps[out->step];
        if (*latest >= 0) step->spacing = lesser(step->spacing, time - *latest);
        *latest = time;
        *j += up ? 1 : -1;
    }
}

/* Where a run stands while its movements are made. */
typedef struct {
    int64_t time, boundary, latest, first_step;
    double place;
} Progress;

static int64_t heading_of(const Gesture *gesture, int drawn, int64_t turn) {
    if (gesture->heading == EITHER) return drawn;
    if (gesture->heading == ALTERNATE) return turn % 2 == 0 ? 1 : -1;
    return gesture->heading;
}

static void move_once(Run *run, const Geometry *geometry, const Angles *angles, const Gesture *gesture,
                      int64_t slot, int64_t k, int drawn, Progress *at) {
    int rock = gesture->kind == ROCK;
    int back = rock && k % 2;
    int64_t turn = rock ? k / 2 : k;
    Four d = four(run->key, MOVE, (uint64_t)slot, (uint64_t)(2 * k));
    double pace, stay;
    normal_pair(d.u[0], d.u[1], &pace, &stay);
    double reach = rock ? four(run->key, MOVE, (uint64_t)slot, (uint64_t)(2 * turn + 1)).u[0] : 1.0;
    double distance = gesture->steps_low + (gesture->steps - gesture->steps_low) * reach;
    distance *= (double)(heading_of(gesture, drawn, turn) * (1 - 2 * back));
    if (!back) {
        at->first_step = run->step_count;
        open_steps(run, distance, slot);
    }
    int64_t duration = greater(ticks(lognormal(gesture->duration, gesture->duration_spread, pace)), 1);
    Way way = {
        .start = at->time, .end = at->time + duration,
        .first_step = at->first_step, .last_step = run->step_count - 1,
        .place = at->place, .target = snapped(at->place + distance),
        .ripple = gesture->ripple, .pitch = geometry->cycles_per_step,
        .degrees = 360.0 / geometry->steps_per_turn, .steady = gesture->steady != 0,
    };
    cross_move(run, &way, angles, &at->boundary, &at->latest);
    at->place = way.target;
    at->time = way.end + ticks(lognormal(gesture->dwell, gesture->dwell_spread, stay));
}

/* All movements of a run. */
static void turn_shaft(Run *run, const Geometry *geometry, const HandEntry *hand, int64_t entries) {
    static const uint8_t resting[4] = {0, 1, 3, 2};
    Angles angles = boundaries(geometry, run->key);
    Progress at = {.time = LEAD, .boundary = -8, .latest = -1};
    while (boundary_place(&angles, geometry->cycles_per_step, at.boundary) <= 0.0) at.boundary++;
    run->first = resting[at.boundary & 3];
    run->step_count = run->transition_count = run->cut = 0;
    for (int64_t slot = 0; slot < entries; slot++) {
        const Gesture *gesture = &hand[slot].gesture;
        int drawn = 1;
        if (gesture->heading == EITHER)
            drawn = four(run->key, HEADING, (uint64_t)slot, 0).u[0] < 0.5 ? 1 : -1;
        for (int64_t k = 0; k < hand[slot].moves; k++)
            move_once(run, geometry, &angles, gesture, slot, k, drawn, &at);
    }
    run->end = at.time;
}

#endif
