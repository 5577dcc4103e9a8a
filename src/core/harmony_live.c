/* Live: what has sounded, and the chord of each beat as it comes. */
#include <math.h>
#include <string.h>

#include "harmony_hindsight.h"
#include "harmony_live_parts.h"
#include "harmony_memory.h"
#include "harmony_net.h"
#include "harmony_rate.h"

enum { OUT = US_NET_OUT, ROLES = US_HARMONY_ROLES, CLASSES = US_HARMONY_CLASSES };
/* After a change of key the last beats are heard again in it: a few at once, more when there is time. */
enum { AGAIN = 8, AGAIN_AT_ONCE = 2 };
/* Beats in one key after which it was the right one. */
enum { SETTLED_KEY = 16 };
/* A primary triad that lacks the note it is struck with is less welcome still where it has to last. */
static const float LASTING_CLASH = 0.5f;
/* The style is that of the last notes, no more of them than a long tune has. */
enum { MOST_NOTES = 1024 };
/* So many beats may wait for the hindsight while the player does not rest. */
enum { LOOK_BACK_LATEST = 16 };

void us_harmony_live_init(struct us_harmony_live *h, const struct us_harmony_tables *tables,
                          enum us_chords chords, enum us_change change)
{
    memset(h, 0, sizeof *h);
    h->tables = tables ? tables : &us_harmony_built_in;
    us_harmony_live_settings(h, chords, change);
    h->key.tonic = US_NO_KEY;
    us_hindsight_start(&h->hindsight);
    us_harmony_live_fresh(h);
}

void us_harmony_live_settings(struct us_harmony_live *h, enum us_chords chords, enum us_change change)
{
    h->chords = (uint8_t)chords;
    h->change = (uint8_t)change;
}

size_t us_harmony_live_notes_since(const struct us_harmony_live *h, double from, struct us_note *out)
{
    uint32_t kept = h->notes < US_LIVE_NOTES ? h->notes : US_LIVE_NOTES, count = 0;
    while (count < kept && !(count && h->note[(h->notes - count) % US_LIVE_NOTES].at <= from))
        count++;
    for (uint32_t i = 0; i < count; i++) {
        const struct us_live_note *n = &h->note[(h->notes - count + i) % US_LIVE_NOTES];
        out[i] = (struct us_note){.at = n->at, .len = 64, .pitch = n->pitch};
        if (i) out[i - 1].len = n->at - out[i - 1].at;
    }
    return count;
}

float us_harmony_live_style(const struct us_harmony_live *h, struct us_metre metre)
{
    float clues[US_STYLE_CLUES];
    return us_style_judge(&h->clues, h->tables->style_live, metre, 0, 0, clues);
}

void us_harmony_live_fresh(struct us_harmony_live *h)
{
    us_harmony_live_over(h);
    h->sounding = false;
    h->notes = h->beats = h->origin = 0;
    h->again = false;
    for (int k = 0; k < US_LIVE_NETS; k++)
        h->net[k].prepared = 0;
    h->at = h->shift = 0;
    h->before = h->late_before = -1;
    h->heard = 0;
    memset(&h->clues, 0, sizeof h->clues);
    us_rate_start(&h->rate_clues);
    h->rate = US_CHANGE_AUTO;
    h->usual = 0;
    h->phrase_over = false;
    us_memory_fresh(&h->memory);
}

/* The clock goes on evenly where the follower changes its mind about bars or metre. */
static double clock_of(struct us_harmony_live *h, const struct us_position *position)
{
    double bar = us_metre_bar_quarters(position->metre);
    double at = position->bar * bar + position->bar_quarters + h->shift;
    bool first = h->notes == 0 && h->beats == 0;
    if (!first && at < h->at) {
        h->shift += h->at - at;
        at = h->at;
    } else if (!first && at > h->at + 2 * bar + 4) {
        h->shift -= at - h->at - bar;
        at = h->at + bar;
    }
    return h->at = at;
}

static void notice_style(struct us_harmony_live *h, const struct us_live_note *last, double at, int pitch)
{
    if (h->clues.lengths >= MOST_NOTES) us_style_forget(&h->clues);
    us_style_note(&h->clues, at - last->at, pitch - last->pitch,
                  h->key.tonic == US_NO_KEY ? 0 : last->pitch - h->key.tonic);
}

static void hear_in_key(struct us_harmony_live *h, struct us_key key);

void us_harmony_live_note(struct us_harmony_live *h, struct us_key key, const struct us_position *position,
                          int pitch)
{
    hear_in_key(h, key);
    double at = clock_of(h, position);
    if (h->notes) {
        const struct us_live_note *last = &h->note[(h->notes - 1) % US_LIVE_NOTES];
        notice_style(h, last, at, pitch);
        us_harmony_live_notice_phrase(h, (float)(at - last->at),
                                      (float)us_metre_beat_quarters(position->metre));
    } else
        h->running = h->late_running = (float)pitch;
    h->note[h->notes++ % US_LIVE_NOTES] = (struct us_live_note){at, (int16_t)pitch};
}

static void turn(float *steps, int by)
{
    float old[US_PITCH_CLASSES];
    memcpy(old, steps, sizeof old);
    for (int i = 0; i < US_PITCH_CLASSES; i++)
        steps[us_pitch_class(i + by)] = old[i];
}

/* The frames that the first layer hears for a beat: its own is the last. */
static void frames_of(const struct us_harmony_live *h, uint32_t beat, const float *frames[US_NET_TAPS])
{
    uint32_t since = beat - h->origin;
    for (uint32_t back = 0; back < US_NET_TAPS; back++)
        frames[US_NET_TAPS - 1 - back] = back <= since ? h->frame[(beat - back) % US_LIVE_REACH] : NULL;
}

/* The first `outs` outputs; 0 where the beat is only to be remembered. */
static void run_nets(struct us_harmony_live *h, uint32_t beat, int outs, float *out)
{
    const float *frames[US_NET_TAPS];
    frames_of(h, beat, frames);
    for (int i = 0; i < outs; i++)
        out[i] = 0;
    for (int k = 0; k < US_LIVE_NETS; k++)
        us_net_live(&h->tables->live[k], &h->net[k], beat - h->origin, frames, outs, out);
    for (int i = 0; i < outs; i++)
        out[i] /= US_LIVE_NETS;
}

/* The beats from number `from` on are all that the networks know. */
static void hear_again(struct us_harmony_live *h, uint32_t from)
{
    h->origin = from;
    for (int k = 0; k < US_LIVE_NETS; k++)
        h->net[k].prepared = 0;
    for (uint32_t beat = from; beat < h->beats; beat++)
        run_nets(h, beat, 0, NULL);
}

static void turn_frame(float *frame, int by, struct us_key key)
{
    static const int PLACES[] = {US_FRAME_SHARE, US_FRAME_START, US_FRAME_MID, US_FRAME_LATE};
    for (int i = 0; i < 4; i++)
        turn(&frame[PLACES[i]], by);
    frame[US_FRAME_MINOR] = us_mode_has_minor_third((enum us_mode)key.mode);
}

/* Where the key is another than was thought, the last beats are heard again in it. */
static void hear_in_key(struct us_harmony_live *h, struct us_key key)
{
    if (us_key_equal(key, h->key) || key.tonic == US_NO_KEY) return;
    int by = h->key.tonic == US_NO_KEY ? 0 : us_pitch_class(h->key.tonic - key.tonic);
    h->key = key;
    turn(h->clues.step, by);
    /* A key that has lasted was right; what was heard before it was found is not to be used. */
    if (h->hindsight.frames + h->hindsight.waiting >= SETTLED_KEY)
        us_harmony_live_begin_to_settle(h);
    else if (!h->settling)
        us_hindsight_start(&h->hindsight);
    h->again_from = h->beats > AGAIN ? h->beats - AGAIN : 0;
    for (uint32_t beat = h->again_from; beat < h->beats; beat++)
        turn_frame(h->frame[beat % US_LIVE_REACH], by, key);
    h->again = h->beats > AGAIN_AT_ONCE;
    hear_again(h, h->again ? h->beats - AGAIN_AT_ONCE : 0);
}

void us_harmony_live_rest(struct us_harmony_live *h)
{
    us_harmony_live_hand_on_until(h, US_HINDSIGHT_WAIT);
    us_harmony_live_look_back(h, 0);
    if (h->again) hear_again(h, h->again_from);
    h->again = false;
    us_harmony_live_ready(h);
}

void us_harmony_live_ready(struct us_harmony_live *h)
{
    const float *frames[US_NET_TAPS];
    frames_of(h, h->beats, frames);
    for (int k = 0; k < US_LIVE_NETS; k++)
        us_net_prepare(&h->tables->live[k], &h->net[k], h->beats - h->origin, frames);
}

/* How a beat begins and goes on, by intervals: the same in any key. */
static uint32_t lead_of(const struct us_heard *now, int before, const struct us_position *position)
{
    uint32_t rise = before < 0 || now->start < 0 ? 99 : (uint32_t)(now->start - before + 48);
    uint32_t where = position->on_bar ? 1 : (uint32_t)(position->bar_quarters * 12 + 2.5);
    return (rise * 2 + now->onset) * 256 + where % 256;
}

static uint32_t tail_of(const struct us_heard *body)
{
    if (body->start < 0) return 0;
    uint32_t mid = (uint32_t)(body->mid - body->start + 128),
             late = (uint32_t)(body->late - body->start + 128);
    return (mid * 256 + late) * 2 + body->onset;
}

/* Listens to the beat; fills its frame and remembers it. */
static void hear_beat(struct us_harmony_live *h, const struct us_position *position, double at)
{
    struct us_note notes[US_LIVE_NOTES];
    struct us_heard now, body;
    double beat = us_metre_beat_quarters(position->metre);
    size_t count = us_harmony_live_notes_since(h, at - beat, notes);
    bool compound = fabs(beat - 1.5) < 1e-3;
    int before = h->before;
    struct us_ear ear = {h->running, h->before}, past = ear;
    us_ear_listen(&past, notes, count, at - beat, beat, compound, &body);
    us_ear_listen(&ear, notes, count, at, beat, compound, &now);
    h->running = ear.running;
    h->before = ear.before;
    struct us_frame_context context = {-1, us_harmony_live_style(h, position->metre)};
    us_frame_fill(h->frame[h->beats % US_LIVE_REACH], &now, h->beats ? &body : NULL, h->key, position,
                  &context);
    us_memory_beat(&h->memory, lead_of(&now, before, position), tail_of(&body));
}

/* Live it is not worked out which chord a role is meant for: its own triad, half the time. */
static void bear_clash(const struct us_harmony_live *h, float role[ROLES])
{
    static const double OWN = 0.5;
    bool lasts = h->change == US_CHANGE_BAR || h->change == US_CHANGE_HALF;
    float sum = 0;
    for (int i = 0; i < ROLES; i++) {
        double welcome = 1;
        if (h->chords == US_CHORDS_PRIMARY && h->before >= 0)
            welcome =
                us_harmony_welcome(h->key, (enum us_role)(US_ROLE_I + i), h->before - h->key.tonic, OWN);
        role[i] *= welcome < 1 && lasts ? fminf((float)welcome, LASTING_CLASH) : (float)welcome;
        sum += role[i];
    }
    for (int i = 0; i < ROLES; i++)
        role[i] /= sum;
}

/* What is heard now and what is remembered, as probabilities of roles.  Of beats before the run the networks
   know nothing. */
static void judge_roles(struct us_harmony_live *h, float *out, double role[US_ROLES])
{
    static const uint32_t LAGS[3] = {2, 4, 8};
    float now[ROLES], recalled[ROLES];
    float share = us_memory_recall(&h->memory, recalled);
    for (int i = 0; i < ROLES; i++) {
        now[i] = out[US_OUT_ROLE + i];
        if (share > 0) now[i] += share * logf(recalled[i] + 0.02f);
    }
    us_softmax(now, ROLES);
    us_memory_judge(&h->memory, 0, now, false);
    bear_clash(h, now);
    for (int k = 0; k < 3; k++) {
        us_softmax(&out[US_OUT_PAIR + k * ROLES], ROLES);
        if (LAGS[k] < h->beats) us_memory_judge(&h->memory, LAGS[k], &out[US_OUT_PAIR + k * ROLES], false);
    }
    role[US_ROLE_NONE] = 0;
    for (int i = 0; i < ROLES; i++)
        role[US_ROLE_I + i] = now[i];
}

static void judge_classes(const struct us_harmony_live *h, float *said, const double role[US_ROLES],
                          double class[CLASSES])
{
    double of_role[US_ROLES] = {0};
    us_softmax(said, CLASSES);
    memset(class, 0, CLASSES * sizeof *class);
    for (int i = 0; i < CLASSES; i++) {
        int fold = us_class_fold(i, h->key);
        if (fold >= 0) class[fold] += (double)said[i];
    }
    for (int i = 0; i < CLASSES; i++)
        of_role[us_class_role(i, h->key)] += class[i];
    for (int i = 0; i < CLASSES; i++) {
        enum us_role r = us_class_role(i, h->key);
        if (r != US_ROLE_NONE) class[i] *= role[r] * (1 - of_role[US_ROLE_NONE]) / (of_role[r] + 1e-9);
    }
}

void us_harmony_live_decide(struct us_harmony_live *h, struct us_key key, const struct us_position *position,
                            struct us_choice *out)
{
    if (key.tonic == US_NO_KEY) {
        static const double NONE[US_ROLES] = {0};
        us_harmony_choose(NONE, NULL, key, (enum us_chords)h->chords, h->tables, out);
        return;
    }
    hear_in_key(h, key);
    double role[US_ROLES], class[CLASSES];
    float said[OUT];
    hear_beat(h, position, clock_of(h, position));
    h->waiting[h->beats % US_HINDSIGHT_KEPT] = (struct us_live_beat){h->at, *position};
    bool wide = h->chords == US_CHORDS_WIDE;
    run_nets(h, h->beats++, wide ? OUT : US_NET_ROLES_OUT, said);
    judge_roles(h, said, role);
    us_harmony_live_weigh_rate(h, position, role);
    us_harmony_live_hand_on_until(h, US_HINDSIGHT_KEPT - 1);
    us_harmony_live_look_back(h, LOOK_BACK_LATEST);
    if (!h->sounding || us_harmony_may_change((enum us_change)h->change, position)) {
        if (wide) judge_classes(h, &said[US_OUT_CLASS], role, class);
        us_harmony_choose(role, wide ? class : NULL, h->key, (enum us_chords)h->chords, h->tables, &h->now);
    }
    h->sounding = true;
    *out = h->now;
}
