/* A note after a stop: the player waits, goes back to where the notes were before, or begins again. */
#include "follower_parts.h"

#include <math.h>
#include <stdlib.h>

static const float HESITATION_S = 0.8F, HESITATION_FALL = 2.4F, LOG_HESITATION = -1.9F;
static const float BACKS_FIRST = 0.4F, STOPS_FIRST = 1.0F; /* of so many stops so many go back */
static const float FARTHER = -1.5F;                        /* to go back further than to the last line */
static const float SAME_AGAIN = 0.5F; /* a note that repeats the one before is no reason to stop */
static const float LOG_START_OVER = -1.0F, START_KNOWN = 1.0F, START_OTHER = -2.5F, START_AFTER_PAUSE = -8.0F;
static const float RESTART_ONSET = 2.0F, RESTART_FITS = 0.7F, RESTART_MISFITS = 2.0F;
static const float LOG_RESTART = -20.0F, RESTART_NOTE = 0.3F, LOG_RESTART_PAUSED = -9.5F,
                   RESTART_NOTE_PAUSED = 1.6F;

float log_stop(float stop_s)
{
    return LOG_HESITATION - HESITATION_FALL * quick_log(1 + stop_s * (1 / HESITATION_S));
}

/* How well the last few onsets keep the rhythm that the same notes had before. */
static float rhythm_fits(const struct us_follower *f, const struct us_follower_guess *g,
                         const struct us_follower_echo *echo)
{
    float fits = RESTART_ONSET;
    for (uint32_t i = 0; i + 1 < echo->length && i < 5; i++) {
        uint32_t there = echo->note - i, here = f->note_count - 1 - i;
        float step = (float)(int16_t)(g->note_ticks[there % US_FOLLOWER_NOTES] -
                                      g->note_ticks[(there - 1) % US_FOLLOWER_NOTES]);
        float gap_s =
            (float)(f->notes[here % US_FOLLOWER_NOTES].at_s - f->notes[(here - 1) % US_FOLLOWER_NOTES].at_s);
        float off = gap_s - step / US_FOLLOWER_TICKS * g->quarter_s;
        fits += fabsf(off) < 0.03F + 0.12F * gap_s ? RESTART_FITS : -RESTART_MISFITS;
    }
    return fits;
}

/* The player goes back to a place where these notes were before. */
void expand_restarts(const struct us_follower *f, uint16_t index, struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    int32_t bar = f->metres[g->metre].bar_ticks;
    for (int i = 0; i < f->echo_count; i++) {
        const struct us_follower_echo *e = &f->echoes[i];
        if (g->replay >= 0 && e->note == (uint32_t)g->replay + 1) continue; /* it goes on there anyway */
        int32_t back = (int16_t)(g->ticks - g->note_ticks[e->note % US_FOLLOWER_NOTES]);
        struct candidate c = {.parent = index, .how = HOW_RESTARTED, .step = NO_STEP};
        c.jump_ticks = wrap(-back, bar);
        c.again = e->note;
        c.alike = e->length;
        float weight = e->weight < 8 ? e->weight : 8;
        c.score = g->score + (e->paused ? LOG_RESTART_PAUSED + RESTART_NOTE_PAUSED * weight
                                        : LOG_RESTART + RESTART_NOTE * weight);
        if (c.score + 6 < pool->best - KEEP_WITHIN) continue;
        c.score += rhythm_fits(f, g, e);
        offer(pool, c);
    }
}

/* How likely a stop is one to go back, by what this player's stops were so far. */
static float log_goes_back(const struct us_follower_guess *g)
{
    return quick_log((BACKS_FIRST + (float)g->backs) / (STOPS_FIRST + (float)g->backs + (float)g->waits));
}

/* After a stop: the note is the one of the last bar line, of the line before or of the start, and may be
   meant so.  `stopped` is how likely, as a logarithm, the player stopped there at all and then goes on. */
void expand_lines(const struct us_follower *f, uint16_t index, const struct news *news, float stopped,
                  struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    int32_t bar = f->metres[g->metre].bar_ticks;
    struct candidate c = {.parent = index, .how = HOW_RESTARTED, .step = NO_STEP, .alike = 1};
    float base = g->score + stopped + log_goes_back(g);
    bool farther = false;
    uint32_t oldest = f->note_count >= US_FOLLOWER_NOTES ? f->note_count - US_FOLLOWER_NOTES + 1 : 0;
    bool start = g->start_note >= oldest;
    for (uint32_t i = f->note_count - 1; i-- > (start ? g->start_note : oldest);) {
        int32_t back = (int16_t)(g->ticks - g->note_ticks[i % US_FOLLOWER_NOTES]);
        if (back >= 2 * bar) { /* only the start is left */
            if (!start) return;
            i = g->start_note;
            back = (int16_t)(g->ticks - g->note_ticks[i % US_FOLLOWER_NOTES]);
        }
        if (wrap(g->ticks - back, bar) != 0 && (!start || i != g->start_note)) continue;
        float how_far = farther ? FARTHER : 0.0F;
        farther = true;
        if (f->notes[i % US_FOLLOWER_NOTES].pitch != news->pitch) continue;
        c.jump_ticks = wrap(-back, bar);
        c.again = i;
        c.score = base + how_far + (i + 2 == f->note_count ? SAME_AGAIN : 0.0F);
        offer(pool, c);
    }
}

/* After a long pause the tune, or another one, may begin. */
void expand_starts(const struct us_follower *f, uint16_t index, const struct news *news, struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    bool known = f->note_count - g->start_note < US_FOLLOWER_NOTES &&
                 f->notes[g->start_note % US_FOLLOWER_NOTES].pitch == news->pitch;
    struct candidate c = {.parent = index, .how = HOW_STARTED, .step = NO_STEP, .metre = g->metre};
    float base = g->score + LOG_START_OVER + (news->after_end ? 0.0F : START_AFTER_PAUSE);
    c.to_ticks = g->start_ticks;
    c.score = base + (known ? START_KNOWN : 0.0F);
    offer(pool, c);
    if (f->settings.pickup >= 0 || index != f->best) return;
    for (c.metre = 0; c.metre < f->metre_count; c.metre++) {
        for (int i = 0; i < PICKUPS; i++) {
            c.to_ticks = -(int32_t)PICKUP[i].ticks;
            c.score = base + START_OTHER + f->metres[c.metre].log_prior + PICKUP[i].log_prior;
            if (-c.to_ticks < f->metres[c.metre].bar_ticks) offer(pool, c);
        }
    }
}
