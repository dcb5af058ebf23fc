/* Verdicts, root causes and tallies of one run: see simcore/verdicts.py, sums.py. */
#ifndef YARDSTICK_VERDICTS_H
#define YARDSTICK_VERDICTS_H

#include <string.h>

#include "contacts.h"
#include "counter.h"

enum { RIGHT, FLICKERED, MISSED, DOUBLED, REVERSED, VERDICTS, WRONG = VERDICTS, QUANTITIES };
enum {
    NO_CAUSE, CHATTER, SWALLOWED, LATE_DIRECTION, EARLY_DIRECTION, ORDER, MISFIT, SHORT_PULSE,
    SLIDING_NOISE, END_STOP, SKIPPED, SLOW_EDGE, PICK_UP, POWER_UP, SUPPLY_DIP,
    UNEXPLAINED, CAUSES
};
enum { SPACINGS = 9, EXCURSIONS = 9, WIDTH = QUANTITIES + 1 };

/* Tallies in the layout of simcore.sums.Sums. */
typedef struct {
    int64_t *steps, *size, *size_squared, *present, *total, *squared, *product, *runs_with;
    int64_t *excursions, *spurious, *strays, *cut;
} Sums;

typedef struct {
    Range place;
    int64_t wanted, fit, clocked;
} Rules;

/* What the edges of some transitions show. */
typedef struct {
    int swallowed, extra, sliding, swapped;
} Evidence;

/* Transitions around a step: first of the step before, first and end of its own, end of the next. */
typedef struct {
    int64_t before, first, end, after;
} Around;

static int spacing_class(int64_t spacing) {
    static const int64_t borders[SPACINGS - 1] = {
        200000000, 500000000, 1000000000, 2000000000, 5000000000, 10000000000, 20000000000, 50000000000,
    };
    int found = 0;
    for (int i = 0; i < SPACINGS - 1; i++) found += spacing >= borders[i];
    return found;
}

INLINE int64_t held(const Range *place, int64_t position, int64_t net, int64_t low, int64_t high) {
    if (place->positions == 0 || place->wrap) return net;
    int64_t under = greater(0, -(position + low));
    int64_t over = greater(0, position + high - (place->positions - 1));
    return net + under - over;
}

INLINE int verdict_of(int64_t expected, int64_t received, int64_t moves, int64_t clean_moves) {
    if (received == expected) return moves > clean_moves ? FLICKERED : RIGHT;
    if (expected == 0) return DOUBLED;
    if (received * expected < 0) return REVERSED;
    return llabs(received) > llabs(expected) ? DOUBLED : MISSED;
}

/* Note, for each transition, the edges it sent to the counter. */
static void note_edges(Run *run) {
    memset(run->trails, 0, (size_t)run->transition_count * sizeof(Trail));
    for (int line = 0; line < 2; line++) {
        const Edges *edges = &run->lines[line];
        for (int64_t e = 0; e < edges->count; e++) {
            if (edges->causes[e] < 0) continue;
            Trail *trail = &run->trails[edges->causes[e] >> 4];
            if (trail->count++ == 0) trail->first = 2 * edges->times[e] + line;
            trail->origins |= 1 << (edges->causes[e] & 15);
        }
    }
}

static Evidence evidence(const Run *run, int64_t first, int64_t end) {
    Evidence seen = {0};
    int64_t latest = -1;
    for (int64_t t = first; t < end; t++) {
        const Trail *trail = &run->trails[t];
        if (trail->count == 0) {
            seen.swallowed = 1;
            continue;
        }
        if (trail->count > 1) {
            seen.extra = 1;
            seen.sliding |= trail->origins >> SLIDING & 1;
        }
        if (trail->first < latest) seen.swapped = 1;
        latest = greater(latest, trail->first);
    }
    return seen;
}

static int from_edges(Evidence seen, int too_many, int flags) {
    int noise = seen.sliding ? SLIDING_NOISE : CHATTER;
    if (too_many && seen.extra) return noise;
    if (flags & SHORT) return SHORT_PULSE;
    if (seen.swallowed) return SWALLOWED;
    if (flags & SETUP) return LATE_DIRECTION;
    if (flags & HOLD) return EARLY_DIRECTION;
    if (seen.swapped) return ORDER;
    return seen.extra ? noise : NO_CAUSE;
}

static int root_cause(const Rules *rules, const Run *run, const Step *step, int64_t wanted, int64_t moves,
                      Around around) {
    if (!rules->fit && step->asked == step->clean_net) return MISFIT;
    if ((step->flags & AT_STOP) && step->asked == wanted) return END_STOP;
    int too_many = step->moves > moves;
    int found = from_edges(evidence(run, around.first, around.end), too_many, step->flags);
    if (found == NO_CAUSE) found = from_edges(evidence(run, around.before, around.after), too_many, 0);
    if (found == NO_CAUSE) found = rules->fit ? UNEXPLAINED : MISFIT;
    return found;
}

static int64_t end_of_step(const Run *run, int64_t t, int64_t s) {
    while (t < run->transition_count && run->transitions[t].step <= s) t++;
    return t;
}

/* Enter one step in the tally and in the run's own counts ``here``. */
static void count_step(const Sums *sums, int64_t *here, int64_t gestures, const Step *step, int verdict,
                       int cause) {
    int spacing = spacing_class(step->spacing);
    int64_t cell = ((int64_t)step->gesture * 2 + (step->direction > 0 ? 0 : 1)) * SPACINGS + spacing;
    sums->steps[(cell * VERDICTS + verdict) * CAUSES + cause]++;
    int64_t groups[3] = {0, 1 + step->gesture, 1 + gestures + spacing};
    for (int g = 0; g < 3; g++) {
        int64_t *counts = here + groups[g] * WIDTH;
        counts[verdict]++;
        counts[WRONG] += verdict >= MISSED;
        counts[QUANTITIES]++;
    }
}

/* Add the run's own counts to the sums over runs, and clear them. */
static void close_run(const Sums *sums, int64_t *here, int64_t groups) {
    for (int64_t group = 0; group < groups; group++) {
        int64_t *counts = here + group * WIDTH, x = counts[QUANTITIES];
        if (x == 0) continue;
        sums->size[group] += x;
        sums->size_squared[group] += x * x;
        sums->present[group]++;
        for (int q = 0; q < QUANTITIES; q++) {
            int64_t y = counts[q], at = group * QUANTITIES + q;
            if (y == 0) continue;
            sums->total[at] += y;
            sums->squared[at] += y * y;
            sums->product[at] += x * y;
            sums->runs_with[at]++;
        }
        memset(counts, 0, WIDTH * sizeof(int64_t));
    }
}

/* Judge every step of a run; returns the final position minus the expected one. */
static int64_t judge(const Rules *rules, Run *run, int64_t gestures, const Sums *sums, int64_t *here) {
    int64_t ideal = rules->place.start, position = rules->place.start, before = 0, t = 0;
    int noted = 0;
    sums->cut[0] += run->cut;
    sums->spurious[0] += run->spurious;
    sums->spurious[1] += run->spurious * run->spurious;
    for (int64_t s = 0; s < run->step_count; s++) {
        const Step *step = &run->steps[s];
        int64_t wanted = step->clean_net, low = step->clean_low, high = step->clean_high;
        int64_t moves = step->clean_moves;
        if (!rules->fit) {
            wanted = rules->wanted * step->direction * step->complete;
            low = lesser(wanted, 0), high = greater(wanted, 0), moves = llabs(wanted);
        }
        if (step->start_known) position = step->start;
        int64_t expected = held(&rules->place, position, wanted, low, high);
        ideal += held(&rules->place, ideal, wanted, low, high);
        int verdict = verdict_of(expected, step->net, step->moves, moves), cause = NO_CAUSE;
        int64_t astray = greater(step->high - greater(expected, 0), lesser(expected, 0) - step->low);
        sums->excursions[lesser(greater(astray, 0), EXCURSIONS - 1)]++;
        int64_t end = end_of_step(run, t, s);
        if (verdict >= MISSED) {
            if (!noted) note_edges(run);
            noted = 1;
            Around around = {before, t, end, end_of_step(run, end, s + 1)};
            cause = root_cause(rules, run, step, wanted, moves, around);
        }
        count_step(sums, here, gestures, step, verdict, cause);
        position += step->net;
        before = t;
        t = end;
    }
    close_run(sums, here, 1 + gestures + SPACINGS);
    return run->position - ideal;
}

#endif
