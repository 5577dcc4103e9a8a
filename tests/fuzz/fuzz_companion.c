/* Any events at any times, in any order that a player, a pedal and the switches can make: the companion's
   promises hold after each step.  Eight bytes say the settings, then four bytes an event. */
#include <string.h>

#include "../invariants.h"
#include "fuzz.h"
#include "undersong/drill.h"
#include "undersong/score.h"

enum { EVENTS_MAX = 400 };

/* How long until an event: from chords to hours, by one byte. */
static int64_t pause_ns(uint8_t byte)
{
    static const int64_t UNIT[4] = {1000000, 10000000, 100000000, INT64_C(1000000000000)};
    return byte < 0xC0   ? UNIT[byte >> 6] * (byte & 63)
           : byte < 0xF0 ? (byte & 63) * INT64_C(20000000)
                         : UNIT[3] * (byte & 15);
}

/* Two bars that the companion may be told to expect. */
static const struct us_score *known_tune(void)
{
    static const struct us_note NOTES[] = {{0, 1, 60, 80},     {1, 1, 64, 80}, {2, 1, 67, 80},
                                           {3, 1, 64, 80},     {4, 1, 65, 80}, {5, 0.5, 67, 80},
                                           {5.5, 0.5, 69, 80}, {6, 2, 60, 80}};
    static const struct us_chord_span CHORDS[] = {
        {0, 4, {0, US_CHORD_MAJ}}, {4, 2, {5, US_CHORD_MAJ}}, {6, 2, {0, US_CHORD_MAJ}}};
    static const struct us_tune TUNE = {
        .notes = NOTES, .note_count = 8, .chords = CHORDS, .chord_count = 3, .metre = {4, 4}, .title = ""};
    static struct us_score score;
    return score.count || us_score_init(&score, &TUNE) ? &score : NULL;
}

/* A book with that tune in it. */
static const struct us_songbook *known_book(void)
{
    static const struct us_score *songs[1];
    static struct us_song_opening opening;
    static const struct us_songbook BOOK = {.songs = songs, .openings = &opening, .count = 1};
    if (!songs[0] && (songs[0] = known_tune())) us_song_opening(&opening, songs[0]);
    return songs[0] ? &BOOK : NULL;
}

static struct us_companion_settings settings_of(const uint8_t *data)
{
    static const struct us_metre METRES[] = {{0, 0}, {4, 4}, {3, 4}, {2, 4},  {6, 8},
                                             {9, 8}, {2, 2}, {5, 4}, {32, 1}, {1, 32}};
    struct us_companion_settings s = {
        .texture = data[0] % US_TEXTURES,
        .chords = data[1] % 3,
        .change = data[2] % 4,
        .key = {(int8_t)(data[3] % 13 - 1), data[3] / 13 % US_MODES},
        .metre = METRES[data[4] % (sizeof METRES / sizeof *METRES)],
        .pickup = data[5] & 1 ? -1 : data[5] / 16.0,
        .second_voice = data[6] % 4,
        .round_bars = data[6] / 4 % 9,
        .share = data[5] % 101,
        .sound_shift = (int8_t)data[7] % 49,
    };
    if (data[1] & 0x80) us_drill_parse("C,Eb,F#m", &s.drill, NULL);
    s.match_keyboard = (data[1] & 0x40) != 0;
    if (data[2] & 0x80) s.tune = known_tune();
    if (s.tune && data[2] & 0x40)
        s.loop = (struct us_loop_part){.first = data[3] & 3, .last = 4 + (data[3] >> 2 & 3)};
    if (!s.tune && data[2] & 0x40) s.songbook = known_book();
    return s;
}

static struct us_event event_of(const uint8_t *data, int64_t now_ns)
{
    struct us_event e = {.at_ns = now_ns, .pitch = data[1], .velocity = data[2]};
    switch (data[0] & 15) {
    case 12: e.kind = US_EVENT_PEDAL, e.value = data[1]; break;
    case 13:
        e.kind = US_EVENT_CONTROL;
        e.control = data[1] % (US_CONTROL_TAP + 2);
        e.value = (int8_t)data[2];
        break;
    case 14: e.kind = data[1] & 1 ? US_EVENT_TICK : US_EVENT_PANIC; break;
    case 15: e.kind = data[1] % 8; break;
    default: e.kind = data[0] & 1 ? US_EVENT_NOTE_OFF : US_EVENT_NOTE_ON; break;
    }
    if ((data[0] & 15) < 12) e.pitch &= 127, e.velocity &= 127;
    return e;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size < 12) return 0;
    struct watched w = {.companion = malloc(us_companion_size())};
    if (!w.companion) abort();
    struct us_companion_settings settings = settings_of(data);
    us_companion_init(w.companion, &settings);
    watched_settings(&w);
    size_t count = (size - 8) / 4;
    for (size_t i = 0; i < count && i < EVENTS_MAX; i++) {
        const uint8_t *bytes = data + 8 + i * 4;
        int64_t at_ns = w.now_ns + pause_ns(bytes[3]);
        if (!(bytes[0] & 0x80)) watched_wait(&w, at_ns); /* else the ticks are late */
        watched_send(&w, event_of(bytes, at_ns));
        if ((bytes[0] & 15) == 14 && bytes[1] % 4 == 2) { /* a panic, and on with other settings */
            settings = settings_of(data + bytes[2] % (size - 7));
            us_companion_go_on(w.companion, &settings);
            watched_settings(&w);
        }
    }
    watched_send(&w, (struct us_event){.at_ns = w.now_ns, .kind = US_EVENT_PANIC});
    invariants_silent(&w.promises);
    if (w.promises.broken[0]) fprintf(stderr, "%s\n", w.promises.broken);
    FUZZ_CHECK(!w.promises.broken[0]);
    struct us_snapshot snapshot;
    us_companion_snapshot(w.companion, &snapshot);
    free(w.companion);
    return 0;
}
