/* The room that one run needs, used again by the next run. */
#ifndef YARDSTICK_ROOM_H
#define YARDSTICK_ROOM_H

#include <stdlib.h>

#include "draws.h"

typedef struct {
    int64_t time, until;
    double speed, travel;
    int32_t step;
    int8_t channel, closed, direction;
} Transition;

/* What a step was meant to be, what the bounce-free transitions make of it, and what was counted. */
typedef struct {
    int64_t spacing, start;
    int32_t gesture;
    int32_t direction, complete, start_known;
    int32_t clean_net, clean_moves, clean_low, clean_high;
    int32_t net, asked, moves, flags, low, high;
} Step;

/* Level changes of one line as the counter sees it. */
typedef struct {
    int64_t *times;
    int32_t *causes;
    int64_t count, space;
    int first;
} Edges;

/* The edges that one transition sent to the counter. */
typedef struct {
    int64_t first;
    int32_t count, origins;
} Trail;

typedef struct {
    Key key;
    Transition *transitions;
    Step *steps;
    Trail *trails;
    int64_t transition_count, transition_space, step_count, step_space;
    Edges lines[2];
    uint8_t first;
    int64_t position, spurious, cut, end;
} Run;

static void *grown(void *old, int64_t count, size_t size) {
    void *room = realloc(old, (size_t)count * size);
    if (room == NULL) abort();
    return room;
}

INLINE void need_transitions(Run *run, int64_t count) {
    if (count <= run->transition_space) return;
    run->transition_space = 2 * count + 64;
    run->transitions = grown(run->transitions, run->transition_space, sizeof(Transition));
    run->trails = grown(run->trails, run->transition_space, sizeof(Trail));
}

INLINE void need_steps(Run *run, int64_t count) {
    if (count <= run->step_space) return;
    run->step_space = 2 * count + 64;
    run->steps = grown(run->steps, run->step_space, sizeof(Step));
}

INLINE void need_edges(Edges *line, int64_t count) {
    if (count <= line->space) return;
    line->space = 2 * count + 256;
    line->times = grown(line->times, line->space, sizeof(int64_t));
    line->causes = grown(line->causes, line->space, sizeof(int32_t));
}

static void release(Run *run) {
    free(run->transitions);
    free(run->trails);
    free(run->steps);
    for (int line = 0; line < 2; line++) {
        free(run->lines[line].times);
        free(run->lines[line].causes);
    }
}

#endif
