/* The step and direction counter, with the bounce-free reading: see simcore/counters. */
#ifndef YARDSTICK_COUNTER_H
#define YARDSTICK_COUNTER_H

#include "room.h"

enum { SETUP = 1, HOLD = 2, SHORT = 4, AT_STOP = 8 };
enum { TOSS, OLD, NEW, WORST };
enum { SHORT_COIN = 1 };

typedef struct {
    int64_t clock, active, up, setup, hold, low, high, doubt, short_;
} StepDirection;

typedef struct {
    int64_t positions, start, wrap;
} Range;

/* A decision that stays open until hold time and shortest level have passed. */
typedef struct {
    int64_t time;
    int32_t cause, flags;
    int open, level;
} Decision;

static int heads(Key key, int64_t time, int which) {
    return four(key, COIN, 0, (uint64_t)time).u[which] < 0.5;
}

static int decide(const StepDirection *spec, const Run *run, const Decision *open) {
    int level = open->level;
    if ((open->flags & SHORT) && !(spec->short_ == SHORT_COIN && heads(run->key, open->time, 0))) return 0;
    if (open->flags & (SETUP | HOLD)) {
        if (spec->doubt == TOSS)
            level = heads(run->key, open->time, 1);
        else if (spec->doubt == OLD)
            level ^= (open->flags & SETUP) != 0;
        else if (spec->doubt == NEW)
            level ^= (open->flags & HOLD) != 0;
        else if (open->cause >= 0)
            return -run->transitions[open->cause >> 4].direction;
    }
    return level == spec->up ? 1 : -1;
}

/* Close the open decision: move the position and note the pulse with the step that caused it. */
static void settle(const StepDirection *spec, const Range *range, Run *run, Decision *open) {
    int asked = decide(spec, run, open);
    int64_t target = run->position + asked;
    int moved = asked;
    if (range->positions > 0 && !range->wrap && (target < 0 || target >= range->positions)) moved = 0;
    open->open = 0;
    if (open->cause < 0) {
        run->spurious += asked != 0;
    } else {
        Step *step = &run->steps[run->transitions[open->cause >> 4].step];
        if (!step->start_known) {
            step->start_known = 1;
            step->start = run->position;
        }
        step->net += moved;
        step->asked += asked;
        step->moves += asked != 0;
        step->flags |= open->flags | (moved != asked ? AT_STOP : 0);
        if (step->net < step->low) step->low = step->net;
        if (step->net > step->high) step->high = step->net;
    }
    run->position += moved;
}

/* Count a run; at equal ticks A comes before B. */
static void count_run(const StepDirection *spec, const Range *range, Run *run) {
    const int64_t long_ago = -4000000000000000000;
    const Edges *a = &run->lines[0], *b = &run->lines[1];
    int64_t wait = greater(spec->hold, spec->active ? spec->high : spec->low);
    int64_t clock_time = long_ago, direction_time = long_ago;
    int level[2] = {a->first, b->first};
    int64_t i = 0, j = 0;
    Decision open = {0};
    run->position = range->start;
    run->spurious = 0;
    for (;;) {
        int64_t time_a = i < a->count ? a->times[i] : NEVER, time_b = j < b->count ? b->times[j] : NEVER;
        int64_t time = lesser(time_a, time_b);
        if (open.open && open.time + wait < time) settle(spec, range, run, &open);
        if (time == NEVER) break;
        int line = time_a <= time_b ? 0 : 1;
        int32_t cause = line ? b->causes[j++] : a->causes[i++];
        level[line] ^= 1;
        if (line != spec->clock) {
            if (open.open && time - open.time < spec->hold) open.flags |= HOLD;
            direction_time = time;
            continue;
        }
        int too_short = time - clock_time < (level[line] ? spec->low : spec->high);
        clock_time = time;
        if (level[line] != spec->active) {
            if (open.open && too_short) open.flags |= SHORT;
            continue;
        }
        if (open.open) settle(spec, range, run, &open);
        int32_t flags = (too_short ? SHORT : 0) | (time - direction_time < spec->setup ? SETUP : 0);
        open = (Decision){time, cause, flags, 1, level[line ^ 1]};
    }
}

/* What the same counter without timing limits makes of the bounce-free transitions: every active
 * clock edge counts at once, by the direction as it stands.  ``flips`` holds 1 for a line that is
 * high with its contact open.
 */
static void read_clean(const StepDirection *spec, const int64_t flips[2], Run *run) {
    int level[2] = {(run->first & 1) ^ (int)flips[0], (run->first >> 1) ^ (int)flips[1]};
    for (int64_t i = 0; i < run->transition_count; i++) {
        const Transition *t = &run->transitions[i];
        level[t->channel] = t->closed ^ (int)flips[t->channel];
        if (t->channel != spec->clock || level[t->channel] != spec->active) continue;
        Step *step = &run->steps[t->step];
        step->clean_net += level[t->channel ^ 1] == spec->up ? 1 : -1;
        step->clean_moves++;
        if (step->clean_net < step->clean_low) step->clean_low = step->clean_net;
        if (step->clean_net > step->clean_high) step->clean_high = step->clean_net;
    }
}

#endif
