/* Contact, network, input: one line from transitions to the edges the counter sees.
 *
 * The rules are those of simcore/stages (analogue.py, network.py, inputs.py).
 */
#ifndef YARDSTICK_LINE_H
#define YARDSTICK_LINE_H

#include "contacts.h"

typedef struct {
    Part part;
    int64_t of_supply;
} Level;

/* The yardstick covers inputs without leakage, noise and delay only; these fields are not looked at. */
typedef struct {
    double rms, bandwidth;
} Noise;

typedef struct {
    Part rising, falling;
} GateDelay;

typedef struct {
    Level rising, falling;
    int64_t inverting;
    double leakage;
    Noise noise;
    GateDelay delay;
} SchmittInput;

typedef struct {
    Part pull_up, series, capacitor;
} SeriesCapacitor;

typedef struct {
    double median, spread;
    int64_t per_closure;
} Resistance;

typedef struct {
    int64_t address;
    Part supply;
    Resistance resistance;
    SeriesCapacitor network;
    SchmittInput logic;
    int64_t network_address;
} Analogue;

enum { LOW, HIGH, EITHER_LEVEL };

/* Ticks for which the lines are still watched once the hand is done. */
static const int64_t WATCHED = 100000000000;

/* A built line and its state; the arrays are for a contact that is open (0) or closed (1). */
typedef struct {
    double target[2], tau[2], rising, falling;
    int goal[2];
    double volts;
    int64_t time, horizon;
    int32_t cause;
    int closed, high;
} Pole;

static double level_volts(const Level *level, double volts, double u) {
    double value = toleranced(level->part, u);
    return level->of_supply ? value * volts : value;
}

/* Draw one unit of a line whose contact rests at ``closed``. */
static Pole build(const Analogue *spec, Key key, uint64_t line, double volts, int closed) {
    Four w = four(key, RESISTANCE, line, 0);
    Four parts = four(key, STAGE, (uint64_t)spec->network_address + line, 0);
    Four levels = four(key, STAGE, (uint64_t)spec->address + line, 1);
    double stretch, unused;
    normal_pair(w.u[0], w.u[1], &stretch, &unused);
    double ohms = lognormal(spec->resistance.median, spec->resistance.spread, stretch);
    double pull_up = toleranced(spec->network.pull_up, parts.u[0]);
    double series = toleranced(spec->network.series, parts.u[1]);
    double farads = toleranced(spec->network.capacitor, parts.u[2]);
    double rising = level_volts(&spec->logic.rising, volts, levels.u[0]);
    double falling = fmin(level_volts(&spec->logic.falling, volts, levels.u[1]), rising);
    Pole pole = {
        .target = {volts, volts * ohms / (pull_up + ohms)},
        .tau = {(pull_up + series) * farads, (series + pull_up * ohms / (pull_up + ohms)) * farads},
        .rising = rising, .falling = falling, .cause = -16, .closed = closed,
    };
    for (int state = 0; state < 2; state++)
        pole.goal[state] = pole.target[state] > rising    ? HIGH
                           : pole.target[state] < falling ? LOW
                                                          : EITHER_LEVEL;
    pole.volts = pole.target[closed];
    pole.high = pole.volts >= rising;
    return pole;
}

INLINE void emit(Edges *out, Pole *pole, int64_t time) {
    pole->high ^= 1;
    out->times[out->count] = time;
    out->causes[out->count++] = pole->cause;
}

/* The crossing ahead, if the line is watched then and it lies before ``limit``.
 *
 * ``decay`` is how far the swing shrinks until ``limit``; it rules out most crossings without a
 * logarithm.
 */
INLINE void cross_before(Pole *pole, Edges *out, double swing, double decay, int64_t limit) {
    int c = pole->closed;
    double left = (pole->high ? pole->falling : pole->rising) - pole->target[c];
    int64_t wake = pole->time;
    if (fabs(swing) > fabs(left) && pole->tau[c] > 0.0) {
        if (fabs(swing * decay) > fabs(left) * (1.0 + 1.0e-9)) return;
        double delay = pole->tau[c] * log(swing / left);
        if (delay >= 4.0e6) return;
        wake += ticks(delay);
    }
    if (wake < lesser(limit, pole->horizon)) emit(out, pole, wake);
}

INLINE int turning(const Pole *pole) {
    int goal = pole->goal[pole->closed];
    return goal != EITHER_LEVEL && goal != pole->high;
}

/* The contact changes at ``time``: what the voltage did until then, then another end. */
INLINE void change(Pole *pole, Edges *out, int64_t time, int32_t cause) {
    int c = pole->closed;
    double swing = pole->volts - pole->target[c], decay = 0.0;
    if (pole->tau[c] > 0.0) decay = exp((double)(pole->time - time) * 1.0e-12 / pole->tau[c]);
    if (turning(pole)) cross_before(pole, out, swing, decay, time);
    pole->volts = pole->tau[c] > 0.0 ? pole->target[c] + swing * decay : pole->target[c];
    pole->time = time;
    pole->closed = c ^ 1;
    pole->cause = cause;
}

/* No change comes any more. */
INLINE void run_out(Pole *pole, Edges *out) {
    if (turning(pole)) cross_before(pole, out, pole->volts - pole->target[pole->closed], 0.0, NEVER);
}

/* Everything that one contact and the electronics behind it do in a run. */
static void drive_line(Run *run, int channel, const Habits habits[2], const Sliding *sliding,
                       const Analogue *spec, double volts, Burst *burst) {
    Edges *out = &run->lines[channel];
    Pole pole = build(spec, run->key, (uint64_t)channel, volts, (run->first >> channel) & 1);
    pole.horizon = run->end + WATCHED;
    out->first = pole.high ^ (int)spec->logic.inverting;
    out->count = 0;
    int64_t following = 0, count = run->transition_count;
    while (following < count && run->transitions[following].channel != channel) following++;
    while (following < count) {
        int64_t i = following++;
        const Transition *t = &run->transitions[i];
        while (following < count && run->transitions[following].channel != channel) following++;
        Crossing at = {
            run->key, (uint64_t)channel, (uint64_t)i * ADDRESSES, t->speed, t->until - t->time,
            following < count ? run->transitions[following].time - t->time : NEVER,
        };
        wiping_burst(burst, &habits[t->closed], &at);
        int64_t whole = burst->count;
        while (burst->count > 1 && burst->times[burst->count - 1] >= at.room) burst->count -= 2;
        run->cut += burst->count < whole;
        if (t->closed && sliding->rate > 0.0) slides(burst, sliding, &at, t->travel);
        need_edges(out, out->count + burst->count + 1);
        for (int64_t k = 0; k < burst->count; k++)
            change(&pole, out, t->time + burst->times[k], (int32_t)i << 4 | burst->origins[k]);
    }
    need_edges(out, out->count + 1);
    run_out(&pole, out);
}

#endif
