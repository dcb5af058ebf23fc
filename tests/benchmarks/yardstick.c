/* The yardstick: the whole job, draws to tallies, in plain C, fused run by run.
 *
 * It follows the rules of simcore operation by operation, so its tallies must equal those of the
 * batch engine to the last digit.  Build without fast-math and without contraction of products.
 */
#include "line.h"
#include "shaft.h"
#include "verdicts.h"

/* A design as the yardstick can run it; tests/benchmarks/yardstick.py fills it in. */
typedef struct {
    Geometry geometry;
    Wiping contact;
    Sliding sliding;
    Analogue line;
    StepDirection counter;
    Rules rules;
    int64_t flips[2];
    int64_t entries;
} Design;

/* Lets the caller check that both sides agree on the layouts. */
void layout(int64_t found[4]) {
    found[0] = sizeof(Design);
    found[1] = sizeof(Sums);
    found[2] = 2 * SPACINGS * VERDICTS * CAUSES;
    found[3] = QUANTITIES;
}

/* Simulate runs ``first_run`` on, add to ``sums``, write each run's final error; 0, or 1 without memory. */
int simulate(const Design *design, const HandEntry *hand, uint64_t seed, int64_t first_run, int64_t runs,
             const Sums *sums, int64_t *errors) {
    Run run = {0};
    Habits habits[2] = {habits_of(design->contact.break_), habits_of(design->contact.make)};
    Burst *burst = malloc(sizeof(Burst));
    int64_t *here = calloc((size_t)((1 + design->entries + SPACINGS) * WIDTH), sizeof(int64_t));
    if (burst == NULL || here == NULL) return 1;
    for (int64_t r = 0; r < runs; r++) {
        run.key = (Key){seed, (uint64_t)(first_run + r)};
        turn_shaft(&run, &design->geometry, hand, design->entries);
        read_clean(&design->counter, design->flips, &run);
        double volts = toleranced(design->line.supply, four(run.key, SUPPLY, 0, 0).u[0]);
        for (int channel = 0; channel < 2; channel++)
            drive_line(&run, channel, habits, &design->sliding, &design->line, volts, burst);
        count_run(&design->counter, &design->rules.place, &run);
        errors[r] = judge(&design->rules, &run, design->entries, sums, here);
    }
    release(&run);
    free(burst);
    free(here);
    return 0;
}
