/* The whole tune as a MIDI file: melody on channel 1, left hand on channel 2, in written time. */
#include "harmonize_write.h"

#include <math.h>
#include <stdlib.h>

#include "undersong/smf_writer.h"
#include "undersong/transpose.h"

enum { TICKS = 480, LEFT_VELOCITY = 64 };
static const double NEAR = 1e-3, QUARTERS_A_MINUTE = 100;

static int64_t tick_of(double quarters)
{
    return llround(quarters * TICKS);
}

static void add_note(struct us_smf_writer *w, int track, int channel, double at, double len, int pitch,
                     int velocity)
{
    if (pitch < 0 || pitch >= US_PITCHES) return;
    struct us_midi_message on = {(uint8_t)(0x90 | channel), (uint8_t)pitch, (uint8_t)velocity};
    struct us_midi_message off = {(uint8_t)(0x80 | channel), (uint8_t)pitch, 64};
    us_smf_writer_message(w, track, tick_of(at), on);
    us_smf_writer_message(w, track, tick_of(at + len), off);
}

/* Semitones from the tune's key to the one that is to sound. */
static int sound_shift(const struct harmonized *h)
{
    struct us_key to = h->settings->sound_in;
    if (to.tonic == US_NO_KEY || h->request.key.tonic == US_NO_KEY) return 0;
    return us_transpose_between(h->request.key, to);
}

/* One chord inside one bar. */
static void add_left(const struct harmonized *h, struct us_smf_writer *w, int track, size_t index,
                     double from, double until, struct us_voicing_context *context)
{
    const struct us_chord chord = h->chords[index].choice.chord;
    double bar = us_metre_bar_quarters(h->request.metre);
    double line = h->request.pickup + floor((from - h->request.pickup) / bar + NEAR) * bar;
    enum us_texture texture = (enum us_texture)h->settings->texture;
    struct us_strike strikes[US_STRIKES_MAX];
    context->key = us_explain_key(&h->explain, from);
    context->melody_before = context->melody;
    context->melody = us_tune_pitch_at(&h->file.tune, from);
    size_t count = us_texture_bar(texture, chord, us_chord_role(chord, context->key), h->request.metre,
                                  from - line, until - line, context, strikes);
    context->before = us_texture_hand(texture, chord, context);
    int shift = sound_shift(h);
    for (size_t i = 0; i < count; i++) {
        double at = line + strikes[i].at;
        struct us_voicing notes =
            i == 0 ? strikes[i].notes : us_texture_fit(strikes[i].notes, us_tune_pitch_at(&h->file.tune, at));
        for (int k = 0; k < notes.count; k++)
            add_note(w, track, 1, at, fmin(strikes[i].len, until - at), notes.pitch[k] + shift,
                     LEFT_VELOCITY * strikes[i].level / 100);
    }
}

static void add_chords(const struct harmonized *h, struct us_smf_writer *w, int track)
{
    struct us_voicing_context context = {.lowest = US_LEFT_LOWEST, .highest = US_LEFT_HIGHEST, .melody = -1};
    double bar = us_metre_bar_quarters(h->request.metre);
    for (size_t i = 0; i < h->count; i++) {
        const struct us_chord_choice *c = &h->chords[i];
        char numeral[16];
        if (c->choice.chord.root == US_NO_CHORD) continue;
        us_chord_numeral(c->choice.chord, us_explain_key(&h->explain, c->at), numeral, sizeof numeral);
        us_smf_writer_text(w, 0, tick_of(c->at), US_SMF_MARKER, numeral);
        for (double from = c->at, end = c->at + c->len; from < end - NEAR;) {
            double line = h->request.pickup + (floor((from - h->request.pickup) / bar + NEAR) + 1) * bar;
            double until = fmin(line, end);
            add_left(h, w, track, i, from, until, &context);
            from = until;
        }
    }
}

static struct us_key shifted(struct us_key key, int shift)
{
    if (key.tonic != US_NO_KEY) key.tonic = (int8_t)us_pitch_class(key.tonic + shift);
    return key;
}

/* A pickup has a bar of its own, so that the bar lines of other programs fall where they should. */
static void add_metre(const struct harmonized *h, struct us_smf_writer *w)
{
    double sixteenths = h->request.pickup * 4;
    bool even = fabs(sixteenths - round(sixteenths)) < NEAR && sixteenths > 0.5 && sixteenths < 32.5;
    if (even) {
        struct us_metre metre = {(uint8_t)lround(sixteenths), 16};
        while (metre.top % 2 == 0 && metre.bottom > 4)
            metre = (struct us_metre){metre.top / 2, metre.bottom / 2};
        us_smf_writer_metre(w, 0, metre);
    }
    us_smf_writer_metre(w, even ? tick_of(h->request.pickup) : 0, h->request.metre);
}

enum us_status write_harmony_midi(const struct harmonized *h, FILE *out, struct us_error *error)
{
    struct us_smf_writer *w = us_smf_writer_create(TICKS);
    if (!w) return us_error_no_memory(error);
    const struct us_tune *tune = &h->file.tune;
    int shift = sound_shift(h);
    double tempo = tune->quarters_a_minute > 0 ? tune->quarters_a_minute : QUARTERS_A_MINUTE;
    if (*tune->title) us_smf_writer_text(w, 0, 0, US_SMF_TRACK_NAME, tune->title);
    us_smf_writer_tempo(w, 0, (uint32_t)lround(60e6 / tempo));
    add_metre(h, w);
    if (h->request.key_count == 0 || h->keys[0].at > NEAR)
        us_smf_writer_key(w, 0, shifted(h->request.key, shift));
    for (size_t i = 0; i < h->request.key_count; i++)
        us_smf_writer_key(w, tick_of(h->keys[i].at), shifted(h->keys[i].key, shift));
    int melody = us_smf_writer_track(w, "melody"), left = us_smf_writer_track(w, "left hand");
    for (size_t i = 0; i < tune->note_count; i++)
        add_note(w, melody, 0, tune->notes[i].at, tune->notes[i].len, tune->notes[i].pitch + shift,
                 tune->notes[i].velocity > 0 ? tune->notes[i].velocity : 80);
    add_chords(h, w, left);
    uint8_t *bytes;
    size_t size;
    enum us_status status = us_smf_writer_bytes(w, &bytes, &size, error);
    us_smf_writer_destroy(w);
    if (status) return status;
    if (fwrite(bytes, 1, size, out) != size)
        status = us_error_set(error, US_STATUS_IO, "the MIDI file cannot be written");
    free(bytes);
    return status;
}
