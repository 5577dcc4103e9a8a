#include "companion_control.h"
#include "companion_key.h"
#include "companion_learner.h"
#include "companion_strain.h"
#include "companion_tune.h"
#include "companion_voices.h"
#include "harmony_internal.h"

#include <string.h>

/* A chord struck by time may be mended when the late note that belongs to it says otherwise, for so long. */
static const int64_t MEND_NS = 250000000;
/* So sure must a first note's place be for a chord on it. */
static const double PLACE_SURE = 0.7;
/* Keys that go down within so long are one grip. */
static const int64_t GRIP_NS = 50000000;
/* The left hand is a little softer than the right. */
static const double LEFT_TO_MELODY = 0.8;

size_t us_companion_size(void)
{
    return sizeof(struct us_companion);
}

void us_companion_init(struct us_companion *c, const struct us_companion_settings *settings)
{
    memset(c, 0, sizeof *c);
    c->settings = *settings;
    struct us_follower_settings beat = {settings->metre, settings->pickup, 0};
    us_follower_init(&c->follower, &beat);
    us_keyfinder_init(&c->keys);
    if (settings->key.tonic != US_NO_KEY) us_keyfinder_lock(&c->keys, settings->key);
    us_harmony_live_init(&c->harmony, settings->tables, settings->chords, settings->change);
    us_known_tune_init(&c->tune, settings);
    us_strain_init(&c->strain);
    us_left_init(&c->left);
    us_voices_init(c);
    us_learner_init(c);
    c->shift = c->shift_to = settings->sound_shift;
    c->key.tonic = US_NO_KEY;
    c->choice.chord.root = c->implied.root = US_NO_CHORD;
    c->melody = c->grip_low = c->key_late = -1;
    c->touch = 70;
    c->struck_ns = -MEND_NS; /* nothing to mend yet */
    c->left_on = !settings->left_hand_off;
    c->ended = true;
}

bool us_melody_sounds(const struct us_companion *c, int pitch)
{
    return us_sounds(&c->sounding, US_VOICE_MELODY, pitch) && c->hands.hand[pitch] != US_HAND_LEFT + 1;
}

/* What the left hand stays below: the lowest note of the player's last grip while it is down (an older key
   still down is about to be let go), else the lowest key of the melody; -1 where none is down. */
static int sounding_melody(const struct us_companion *c)
{
    if (us_melody_sounds(c, c->grip_low)) return c->grip_low;
    for (int pitch = 0; pitch < US_PITCHES; pitch++)
        if (us_melody_sounds(c, pitch)) return pitch;
    return -1;
}

/* Whether the note belongs to the grip before it. */
static bool hold_in_grip(struct us_companion *c, int pitch, struct us_actions *out)
{
    bool same_grip = c->grip_low >= 0 && c->now_ns - c->grip_ns <= GRIP_NS;
    if (!same_grip) c->grip_ns = c->now_ns;
    if (same_grip && pitch < c->grip_low) us_left_give_way(&c->left, pitch, c->now_ns, out, &c->sounding);
    if (!same_grip || pitch < c->grip_low) c->grip_low = (int16_t)pitch;
    return same_grip;
}

static struct us_position position_of(const struct us_felt *felt)
{
    return (struct us_position){felt->metre, felt->bar, felt->bar_quarters, felt->on_bar, felt->on_beat};
}

/* Where the music is now, for the left hand and the second voice. */
static void place_music(struct us_companion *c, const struct us_felt *felt)
{
    double next_beat = us_metre_next_beat(felt->metre, felt->bar_quarters);
    us_voices_place(c, felt);
    us_left_place(&c->left, c->now_ns, felt->bar_quarters, c->run.quarter_ns, next_beat);
}

static void announce_key(struct us_companion *c, struct us_key key, struct us_actions *out)
{
    if (us_key_equal(key, c->key)) return;
    c->key = key;
    struct us_action *a = us_emit(out, c->now_ns, US_ACTION_KEY, US_VOICE_LEFT);
    if (a) a->key = key;
}

static void announce_beat(struct us_companion *c, const struct us_felt *felt, struct us_actions *out)
{
    struct us_action *a = us_emit(out, c->now_ns, US_ACTION_BEAT, US_VOICE_LEFT);
    if (a) a->bar = felt->on_bar;
    if (us_metre_equal(felt->metre, c->metre)) return;
    c->metre = felt->metre;
    a = us_emit(out, c->now_ns, US_ACTION_METRE, US_VOICE_LEFT);
    if (a) a->metre = felt->metre;
}

/* Whether the chord's root would sound a semitone beside the melody's note: then even its open form clashes.
 */
static bool root_clashes(struct us_chord chord, int melody)
{
    if (melody < 0 || us_pcset_has(us_chord_tones(chord), melody)) return false;
    int beside = us_pitch_class(melody - chord.root);
    return beside == 1 || beside == 11;
}

/* The first of the choice's alternatives whose root leaves the melody alone takes the place of a chord that
   does not, which is the most probable of the others then. */
static void avoid_clash(struct us_choice *choice, int melody)
{
    if (!root_clashes(choice->chord, melody)) return;
    for (int i = 0; i < choice->alternatives; i++) {
        if (root_clashes(choice->alternative[i], melody)) continue;
        struct us_chord chord = choice->chord;
        double probability = choice->probability;
        choice->chord = choice->alternative[i];
        choice->probability = choice->alternative_probability[i];
        memmove(choice->alternative + 1, choice->alternative, (size_t)i * sizeof *choice->alternative);
        memmove(choice->alternative_probability + 1, choice->alternative_probability,
                (size_t)i * sizeof *choice->alternative_probability);
        choice->alternative[0] = chord;
        choice->alternative_probability[0] = probability;
        return;
    }
}

static void strike(struct us_companion *c, const struct us_felt *felt, struct us_actions *out)
{
    struct us_left_order order = {
        .texture = c->settings.texture,
        .chord = c->choice.chord,
        .role = us_chord_role(c->choice.chord, c->key),
        .metre = felt->metre,
        .context = {.key = c->key,
                    .melody = sounding_melody(c),
                    .second = c->left.second,
                    .lowest = US_LEFT_LOWEST,
                    .highest = US_LEFT_HIGHEST},
    };
    if (order.context.melody < 0) order.context.melody = c->melody;
    c->left.velocity = (uint8_t)(c->touch * LEFT_TO_MELODY);
    c->struck_ns = c->now_ns;
    enum us_part part = us_learner_part(c, felt->on_bar, out);
    if (part == US_PART_NOTHING) us_left_release(&c->left, c->now_ns, out, &c->sounding);
    if (part == US_PART_ROOT) order.texture = US_TEXTURE_ROOTS;
    if (c->left_on && part != US_PART_NOTHING) us_left_begin(&c->left, &order, out, &c->sounding);
}

/* The chord from here on: the known tune's where one leads, else the one that the harmony implies. */
static void choose_chord(struct us_companion *c, const struct us_felt *felt)
{
    struct us_position position = position_of(felt);
    struct us_chord written = us_known_tune_chord(&c->tune);
    struct us_choice before = c->choice;
    us_harmony_live_decide(&c->harmony, c->key, &position, &c->choice);
    bool stays = us_chord_equal(c->choice.chord, c->implied) && before.chord.root != US_NO_CHORD &&
                 !us_harmony_may_change(c->settings.change, &position);
    c->implied = c->choice.chord;
    if (written.root == US_NO_CHORD) {
        if (stays)
            c->choice = before;
        else
            avoid_clash(&c->choice, felt->on_onset ? c->melody : sounding_melody(c));
        return;
    }
    if (us_chord_equal(written, c->choice.chord)) return;
    c->choice.alternative[0] = c->choice.chord;
    c->choice.alternative_probability[0] = c->choice.probability;
    c->choice.alternatives = c->choice.chord.root != US_NO_CHORD;
    c->choice.chord = written;
    c->choice.probability = 1;
}

/* A beat has come, with a note or by time: which chord from here on, and does the left hand strike? */
static void on_beat(struct us_companion *c, const struct us_felt *felt, struct us_actions *out)
{
    struct us_chord before = c->choice.chord;
    choose_chord(c, felt);
    bool changed = !us_chord_equal(before, c->choice.chord) || c->ended;
    if (c->choice.chord.root == US_NO_CHORD) return;
    if (changed) {
        struct us_action *a = us_emit(out, c->now_ns, US_ACTION_CHORD, US_VOICE_LEFT);
        if (a) a->chord = c->choice.chord, a->key = c->key;
        us_page_chord(&c->page, us_voices_place_now(c), c->choice.chord);
    }
    us_voices_sing(c, out);
    c->left.melody = sounding_melody(c);
    if (changed || felt->on_bar || felt->maybe_bar)
        strike(c, felt, out);
    else if (c->left_on)
        us_left_play(&c->left, c->now_ns, out, &c->sounding);
    c->ended = false;
}

static void felt_beat(struct us_companion *c, const struct us_felt *felt, struct us_actions *out)
{
    struct us_felt now = *felt;
    if (felt->already) {
        /* The beat was struck by time; its note comes late and may ask for another chord. */
        if (!felt->on_onset || c->now_ns - c->struck_ns >= MEND_NS) return;
        now.on_bar = false;
    } else {
        announce_beat(c, felt, out);
    }
    on_beat(c, &now, out);
}

/* Notes were left out and the tune's chord is another one by now. */
static bool chord_overdue(const struct us_companion *c)
{
    struct us_chord written = us_known_tune_chord(&c->tune);
    return written.root != US_NO_CHORD && !us_chord_equal(written, c->choice.chord);
}

static void begin_run(struct us_companion *c, struct us_actions *out)
{
    us_harmony_live_fresh(&c->harmony);
    us_learner_run_over(c, out);
    us_voices_end(c, out);
    us_page_clear(&c->page);
}

bool us_place_known(const struct us_felt *felt)
{
    return !felt->fresh || felt->sure >= PLACE_SURE;
}

static void note_on(struct us_companion *c, const struct us_event *event, struct us_actions *out)
{
    int pitch = event->pitch;
    us_emit_on(out, &c->sounding, c->now_ns, US_VOICE_MELODY, pitch, event->velocity);
    c->melody = (int16_t)pitch;
    bool with = hold_in_grip(c, pitch, out);
    c->touch += (event->velocity - c->touch) * 0.2;
    c->hushed = false;
    us_follower_onset(&c->follower, c->now_ns, pitch, event->velocity, &c->felt);
    us_known_tune_note(&c->tune, &c->settings, c->now_ns, pitch, &c->felt);
    us_voices_know(c, c->tune.follows ? c->tune.score.score : NULL);
    if (c->felt.fresh) begin_run(c, out);
    us_learner_melody(c, pitch, out);
    us_companion_key_note(c, pitch);
    c->onset_ns = c->now_ns;
    announce_key(c, us_companion_key_now(c), out);
    if (!c->tune.leads) us_companion_strain_note(c, pitch);
    struct us_position position = position_of(&c->felt);
    us_harmony_live_note(&c->harmony, c->key, &position, pitch);
    c->waiting = c->felt.waiting;
    place_music(c, &c->felt);
    c->left.melody = c->grip_low;
    us_page_note_on(&c->page, us_voices_place_now(c), pitch, with);
    us_voices_hear(c, pitch, event->velocity);
    bool on_beat_now = c->felt.on_beat || c->felt.on_bar || chord_overdue(c);
    if (!us_place_known(&c->felt)) on_beat_now = false;
    if (on_beat_now) felt_beat(c, &c->felt, out);
    us_voices_sing(c, out);
    if (!on_beat_now) us_left_play(&c->left, c->now_ns, out, &c->sounding);
}

static void end_run(struct us_companion *c, struct us_actions *out)
{
    us_left_release(&c->left, c->now_ns, out, &c->sounding);
    us_harmony_live_over(&c->harmony);
    us_learner_run_over(c, out);
    if (!us_voices_finish(c)) us_voices_end(c, out);
    c->ended = true;
    c->waiting = false;
}

/* The beat that is due by now: the tune's where one leads, and none once it is over.  The follower keeps
   counting beside it. */
static bool next_beat(struct us_companion *c, struct us_felt *felt)
{
    struct us_known_tune *t = &c->tune;
    if (!t->leads) return us_follower_tick(&c->follower, c->now_ns, felt);
    struct us_felt unheeded;
    for (int i = 0; i < 4 && us_follower_tick(&c->follower, c->now_ns, &unheeded);)
        i++;
    return us_score_beat_tick(&t->beat, t->score.score, c->now_ns, felt);
}

/* What could wait until the answer was sent: a portion of one thing a tick. */
static void go_on_with_what_waits(struct us_companion *c)
{
    if (us_known_tune_due(&c->tune, c->now_ns) < INT64_MAX)
        us_known_tune_tick(&c->tune, &c->settings);
    else if (c->strain.is_waiting)
        us_companion_strain_tick(c);
    else
        us_harmony_live_settle(&c->harmony);
}

static void tick(struct us_companion *c, struct us_actions *out)
{
    struct us_felt felt;
    us_learner_tick(c, out);
    go_on_with_what_waits(c);
    for (int i = 0; i < 4 && next_beat(c, &felt); i++) {
        c->felt = felt;
        if (felt.ended) {
            end_run(c, out);
            return;
        }
        place_music(c, &felt);
        if (!c->hushed) felt_beat(c, &felt, out);
    }
    us_harmony_live_ready(&c->harmony);
    if (c->hushed) return;
    us_voices_tick(c, out);
    if (us_left_due(&c->left) <= c->now_ns) us_left_play(&c->left, c->now_ns, out, &c->sounding);
}

/* Everything is judged as it is played; it sounds `shift` semitones away.  What no keyboard has is left out,
   ends and beginnings alike. */
static void shift_sound(struct us_actions *out, int shift)
{
    uint32_t kept = 0;
    for (uint32_t i = 0; i < out->count && shift; i++) {
        struct us_action *a = &out->list[i];
        bool note = a->kind == US_ACTION_NOTE_ON || a->kind == US_ACTION_NOTE_OFF;
        int pitch = a->pitch + (note ? shift : 0);
        if (pitch < 0 || pitch >= US_PITCHES) continue;
        a->pitch = (uint8_t)pitch;
        if (a->chord.root != US_NO_CHORD) a->chord.root = (int8_t)us_pitch_class(a->chord.root + shift);
        if (a->key.tonic != US_NO_KEY) a->key.tonic = (int8_t)us_pitch_class(a->key.tonic + shift);
        out->list[kept++] = *a;
    }
    if (shift) out->count = kept;
}

/* Whoever the key belonged to ends its note. */
static void let_go(struct us_companion *c, int pitch, struct us_actions *out)
{
    if (us_learner_note_off(c, pitch)) return;
    if (c->run.running) us_page_note_off(&c->page, us_voices_place_now(c), pitch);
    us_voices_note_off(c, pitch, out);
}

static void note_off(struct us_companion *c, const struct us_event *event, struct us_actions *out)
{
    us_emit_off(out, &c->sounding, c->now_ns, US_VOICE_MELODY, event->pitch);
    us_harmony_live_rest(&c->harmony);
    us_follower_note_off(&c->follower, c->now_ns, event->pitch);
    let_go(c, event->pitch, out);
}

/* A key that goes down again has come up, and may be the other hand's now. */
static void key_down(struct us_companion *c, const struct us_event *event, struct us_actions *out)
{
    if (c->hands.hand[event->pitch]) let_go(c, event->pitch, out);
    if (!us_learner_note_on(c, event, out)) note_on(c, event, out);
}

void us_companion_step(struct us_companion *c, const struct us_event *event, struct us_actions *out)
{
    out->count = 0;
    c->learner_note = false;
    if (event->at_ns > c->now_ns) c->now_ns = event->at_ns;
    us_companion_key_catch_up(c);
    switch (event->kind) {
    case US_EVENT_NOTE_ON:
        if (event->pitch < US_PITCHES && event->velocity) key_down(c, event, out);
        break;
    case US_EVENT_NOTE_OFF:
        if (event->pitch < US_PITCHES) note_off(c, event, out);
        break;
    case US_EVENT_PEDAL: {
        struct us_action *a = us_emit(out, c->now_ns, US_ACTION_PEDAL, US_VOICE_MELODY);
        c->pedal = (uint8_t)(event->value & 127);
        if (a) a->velocity = c->pedal;
        break;
    }
    case US_EVENT_TICK: tick(c, out); break;
    case US_EVENT_CONTROL: us_companion_control(c, event, out); break;
    case US_EVENT_PANIC:
        us_companion_panic(c, out);
        c->hushed = true;
        break;
    default: break;
    }
    shift_sound(out, c->shift);
    c->shift = c->shift_to;
}

static int64_t earlier(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

int64_t us_companion_due(struct us_companion *c)
{
    const struct us_known_tune *t = &c->tune;
    int64_t beat = t->leads && t->beat.running ? us_score_beat_due(&t->beat, t->score.score)
                                               : us_follower_due(&c->follower);
    int64_t others = earlier(us_voices_due(c), us_learner_due(c));
    others = earlier(others, us_known_tune_due(t, c->now_ns));
    if (c->harmony.settling || c->strain.is_waiting) others = earlier(others, c->now_ns + US_SOON_NS);
    return earlier(earlier(beat, us_left_due(&c->left)), others);
}
