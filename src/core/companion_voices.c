#include "companion_voices.h"

#include <math.h>

/* The second voice is softer than the first. */
static const double SECOND_TO_MELODY = 0.75;
static const double SAME_PLACE = 0.02;

void us_voices_init(struct us_companion *c)
{
    us_second_init(&c->second, c->settings.second_voice, c->settings.round_bars);
    c->knows = NULL;
    c->told_state = US_ROUND_LISTENS;
    c->unsung = -1;
}

static void forget_tune(struct us_companion *c)
{
    us_second_forget_tune(&c->second);
    c->knows = NULL;
    c->told_state = US_ROUND_LISTENS;
}

void us_voices_know(struct us_companion *c, const struct us_score *score)
{
    struct us_round_note notes[US_ROUND_NOTES_MAX];
    if (c->knows == score) return;
    if (c->knows) forget_tune(c);
    if (!score || c->second.kind != US_SECOND_ROUND || !score->tune.metre.top) return;
    const struct us_tune *tune = &score->tune;
    c->knows = score;
    size_t count = tune->note_count < US_ROUND_NOTES_MAX ? tune->note_count : US_ROUND_NOTES_MAX;
    for (size_t i = 0; i < count; i++)
        notes[i] = (struct us_round_note){.at = tune->notes[i].at - tune->pickup,
                                          .len = tune->notes[i].len,
                                          .pitch = (uint8_t)tune->notes[i].pitch};
    us_second_know_tune(&c->second, notes, count, us_metre_bar_quarters(tune->metre));
}

static double bar_quarters_of(const struct us_companion *c)
{
    return us_metre_bar_quarters(c->run.metre);
}

/* The last note of a known tune is played: there is nobody left to wait for. */
static bool at_last_note(const struct us_companion *c)
{
    const struct us_score_follower *score = &c->tune.score;
    return c->tune.follows && score->score && score->place + 1 == score->score->count;
}

/* How far the run has gone on since its last place; where the player waited, to the beat that was waited for.
 */
static double passed(const struct us_companion *c, const struct us_felt *felt)
{
    const struct us_run_place *run = &c->run;
    double quarters = (double)(c->now_ns - run->at_ns) / run->quarter_ns;
    return felt->waiting || c->tune.leads ? fmin(quarters, run->limit - run->at) : quarters;
}

void us_voices_place(struct us_companion *c, const struct us_felt *felt)
{
    struct us_run_place *run = &c->run;
    double bar = us_metre_bar_quarters(felt->metre), at = felt->bar * bar + felt->bar_quarters;
    bool other_metre = !us_metre_equal(felt->metre, run->metre);
    if (felt->fresh)
        run->offset = 0;
    else if (run->running && (other_metre || at + run->offset < run->at - bar - SAME_PLACE))
        /* Bars are counted otherwise now: the round goes on from where it is, at the same place of the bar.
         */
        run->offset = run->at - at + passed(c, felt);
    double next = us_metre_next_beat(felt->metre, felt->bar_quarters) - felt->bar_quarters;
    *run = (struct us_run_place){
        .running = true,
        .offset = run->offset,
        .at = at + run->offset,
        .limit = at_last_note(c) ? INFINITY : at + run->offset + next,
        .at_ns = c->now_ns,
        .quarter_ns = felt->quarter_ns > 0 ? felt->quarter_ns : 6.5e8,
        .metre = felt->metre,
        .strong = felt->on_bar || fabs(felt->bar_quarters - us_metre_half_quarters(felt->metre)) < SAME_PLACE,
    };
}

/* By time alone nothing sounds that belongs to a beat which has not come yet: the answer waits with the
 * player. */
double us_voices_place_now(const struct us_companion *c)
{
    const struct us_run_place *run = &c->run;
    if (!run->running || c->now_ns == run->at_ns) return run->at;
    return fmin(run->at + (double)(c->now_ns - run->at_ns) / run->quarter_ns, run->limit - 2 * SAME_PLACE);
}

static struct us_second_moment moment_of(const struct us_companion *c)
{
    return (struct us_second_moment){us_voices_place_now(c), bar_quarters_of(c), c->key, c->choice.chord,
                                     c->run.strong};
}

static void send(struct us_companion *c, const struct us_round_answer *answers, size_t count,
                 struct us_actions *out)
{
    for (size_t i = 0; i < count; i++) {
        if (answers[i].on)
            us_emit_on(out, &c->sounding, c->now_ns, US_VOICE_SECOND, answers[i].pitch,
                       (int)(answers[i].velocity * SECOND_TO_MELODY));
        else
            us_emit_off(out, &c->sounding, c->now_ns, US_VOICE_SECOND, answers[i].pitch);
    }
    c->left.second = us_second_lowest(&c->second);
}

/* What the second voice has found out since is told once. */
static void tell_entry(struct us_companion *c, struct us_actions *out)
{
    if (c->second.kind != US_SECOND_ROUND || c->second.round_bars || c->second.state == c->told_state) return;
    c->told_state = c->second.state;
    if (c->second.state == US_ROUND_LISTENS) return;
    struct us_action *a = us_emit(out, c->now_ns, US_ACTION_ROUND, US_VOICE_SECOND);
    if (a) a->value = c->second.state == US_ROUND_ENTERS ? c->second.entry_bars : 0;
}

void us_voices_hear(struct us_companion *c, int pitch, int velocity)
{
    c->unsung = (int16_t)pitch;
    c->unsung_velocity = (uint8_t)velocity;
}

void us_voices_sing(struct us_companion *c, struct us_actions *out)
{
    if (c->unsung < 0) return;
    struct us_round_answer answers[US_SECOND_ANSWERS_MAX];
    struct us_second_moment moment = moment_of(c);
    send(
        c, answers,
        us_second_note_on(&c->second, &moment, c->unsung, c->unsung_velocity, answers, US_SECOND_ANSWERS_MAX),
        out);
    c->unsung = -1;
    tell_entry(c, out);
}

void us_voices_note_off(struct us_companion *c, int pitch, struct us_actions *out)
{
    struct us_round_answer answers[US_SECOND_ANSWERS_MAX];
    struct us_second_moment moment = moment_of(c);
    send(c, answers, us_second_note_off(&c->second, &moment, pitch, answers, US_SECOND_ANSWERS_MAX), out);
}

void us_voices_take_back(struct us_companion *c, int pitch)
{
    us_second_take_back(&c->second, pitch);
}

void us_voices_tick(struct us_companion *c, struct us_actions *out)
{
    struct us_round_answer answers[US_SECOND_ANSWERS_MAX];
    if (!c->run.running) return;
    send(c, answers,
         us_second_advance(&c->second, us_voices_place_now(c), bar_quarters_of(c), answers,
                           US_SECOND_ANSWERS_MAX),
         out);
    tell_entry(c, out);
    if (c->ended && isinf(c->run.limit) && !us_voices_finish(c)) us_voices_end(c, out);
}

/* A note that is held on is as long as it was till now. */
static void end_on_page(struct us_companion *c)
{
    for (int pitch = 0; pitch < US_PITCHES && c->run.running; pitch++)
        if (us_melody_sounds(c, pitch)) us_page_note_off(&c->page, us_voices_place_now(c), pitch);
}

void us_voices_end(struct us_companion *c, struct us_actions *out)
{
    struct us_round_answer answers[US_SECOND_ANSWERS_MAX];
    end_on_page(c);
    us_second_run_over(&c->second);
    tell_entry(c, out);
    for (size_t n = US_SECOND_ANSWERS_MAX; n == US_SECOND_ANSWERS_MAX;) {
        n = us_second_silence(&c->second, true, answers, US_SECOND_ANSWERS_MAX);
        send(c, answers, n, out);
    }
    c->run = (struct us_run_place){.offset = c->run.offset};
    c->unsung = -1;
}

bool us_voices_finish(const struct us_companion *c)
{
    return c->run.running && isinf(c->run.limit) && !isinf(us_second_due(&c->second));
}

int64_t us_voices_due(const struct us_companion *c)
{
    const struct us_run_place *run = &c->run;
    double due = us_second_due(&c->second);
    if (!run->running || !(due < run->limit - 2 * SAME_PLACE)) return INT64_MAX;
    double wait = (due - run->at) * run->quarter_ns;
    return run->at_ns + (wait > 0 ? (int64_t)ceil(wait) + 1 : 1);
}
