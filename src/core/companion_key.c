#include "companion_key.h"

#include "companion_strain.h"

/* The key leans on the first note on a bar line, which is known better by and by. */
static void hear_first_line(struct us_companion *c)
{
    double sure;
    int pitch = us_follower_first_line(&c->follower, &sure);
    us_keyfinder_bar(&c->keys, pitch, sure);
}

void us_companion_key_note(struct us_companion *c, int pitch)
{
    c->key_late = (int16_t)pitch;
    c->key_late_length = (double)(c->now_ns - c->onset_ns) / 1e9;
    if (!c->keys.locked) us_companion_key_catch_up(c);
}

/* What was felt at the note stands until the next step. */
void us_companion_key_catch_up(struct us_companion *c)
{
    if (c->key_late < 0) return;
    us_keyfinder_lasted(&c->keys, c->key_late_length);
    if (c->felt.waiting) us_keyfinder_stopped(&c->keys);
    us_keyfinder_note(&c->keys, c->key_late, 1.0, c->felt.fresh);
    hear_first_line(c);
    c->key_late = -1;
}

struct us_key us_companion_key_now(const struct us_companion *c)
{
    struct us_key written = {US_NO_KEY, US_MODE_MAJOR};
    if (c->tune.leads && !c->keys.locked)
        written = us_score_key(&c->tune.score);
    else if (!c->keys.locked)
        written = us_companion_strain_key(c);
    return written.tonic != US_NO_KEY ? written : us_keyfinder_best(&c->keys, NULL);
}
