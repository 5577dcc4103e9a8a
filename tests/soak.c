/* A long evening in virtual time: players with changing keys, tempi, metres and textures, who stumble, stop,
   start again, press pedals and switches.  After every step the companion's promises hold, memory stays what
   it is, and the same seed gives the same actions.  usage: soak NOTES [SEED] */
#include <malloc.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "invariants.h"
#include "undersong/drill.h"
#include "undersong/score.h"

enum { TUNE_NOTES = 24, SESSION_NOTES = 4000, QUARTER_STEPS = 4 };

struct player {
    uint64_t random;
    struct watched watched;
    struct us_key key;
    struct us_metre metre;
    int64_t quarter_ns;
    struct {
        int8_t step; /* above the keynote, in steps of the scale */
        uint8_t sixteenths;
    } tune[TUNE_NOTES];
    uint8_t held[8]; /* keys that are down beside the melody's */
    size_t held_count;
    uint64_t notes;
};

static uint32_t any(struct player *p, uint32_t below)
{
    p->random = p->random * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)((p->random >> 33) % below);
}

static bool chance(struct player *p, uint32_t in_thousand)
{
    return any(p, 1000) < in_thousand;
}

static void new_tune(struct player *p)
{
    static const uint8_t LENGTHS[] = {2, 2, 4, 4, 4, 4, 6, 8, 12, 3, 1};
    int step = 0;
    for (int i = 0; i < TUNE_NOTES; i++) {
        step += (int)any(p, 5) - 2;
        if (step < -3 || step > 9) step = 0;
        p->tune[i].step = (int8_t)(i == TUNE_NOTES - 1 ? 0 : step);
        p->tune[i].sixteenths = i % 8 == 7 ? 8 : LENGTHS[any(p, sizeof LENGTHS)];
    }
}

static int pitch_of(const struct player *p, int step)
{
    int octave = step >= 0 ? step / 7 : -1, inside = step - 7 * octave;
    return 60 + p->key.tonic + 12 * octave + us_mode_step_semitones((enum us_mode)p->key.mode, inside + 1);
}

static void send(struct player *p, enum us_event_kind kind, int pitch, int velocity)
{
    watched_send(&p->watched, (struct us_event){.at_ns = p->watched.now_ns,
                                                .kind = (uint8_t)kind,
                                                .pitch = (uint8_t)pitch,
                                                .velocity = (uint8_t)velocity,
                                                .value = velocity});
}

static void wait(struct player *p, int64_t ns)
{
    watched_wait(&p->watched, p->watched.now_ns + ns);
}

static void press(struct player *p, int pitch)
{
    send(p, US_EVENT_NOTE_ON, pitch, 30 + (int)any(p, 90));
    p->notes++;
}

static void turn_a_switch(struct player *p)
{
    watched_send(&p->watched, (struct us_event){.at_ns = p->watched.now_ns,
                                                .kind = US_EVENT_CONTROL,
                                                .control = (uint8_t)any(p, US_CONTROL_TAP + 1),
                                                .value = (int32_t)any(p, 4) + (chance(p, 100) ? 90 : 0)});
}

static void let_all_go(struct player *p)
{
    while (p->held_count)
        send(p, US_EVENT_NOTE_OFF, p->held[--p->held_count], 0);
}

/* What happens now and then before a note. */
static void interrupt(struct player *p)
{
    if (chance(p, 20)) wait(p, p->quarter_ns * (1 + any(p, 12)) / 2); /* hesitates */
    if (chance(p, 3)) wait(p, 4000000000 + (int64_t)any(p, 60000) * 1000000);
    if (chance(p, 8)) turn_a_switch(p);
    if (chance(p, 10)) send(p, US_EVENT_PEDAL, 0, chance(p, 500) ? 127 : 0);
    if (chance(p, 15)) press(p, 40 + (int)any(p, 60)), send(p, US_EVENT_NOTE_OFF, p->watched.now_ns & 127, 0);
    if (chance(p, 4) && p->held_count < sizeof p->held) {
        p->held[p->held_count] = (uint8_t)(36 + any(p, 48));
        press(p, p->held[p->held_count++]); /* leans on a key */
    }
    if (chance(p, 10)) let_all_go(p);
    if (chance(p, 1)) send(p, US_EVENT_PANIC, 0, 0);
}

static void play_note(struct player *p, int index)
{
    int pitch = pitch_of(p, p->tune[index].step);
    if (chance(p, 25)) pitch += (int)any(p, 5) - 2;
    int64_t length = p->quarter_ns * p->tune[index].sixteenths / QUARTER_STEPS;
    int64_t uneven = length * ((int)any(p, 140) - 70) / 1000;
    press(p, pitch);
    bool grip = chance(p, 30);
    if (grip) press(p, pitch - 3);
    wait(p, (length + uneven) * (60 + any(p, 40)) / 100);
    send(p, US_EVENT_NOTE_OFF, pitch, 0);
    if (grip) send(p, US_EVENT_NOTE_OFF, pitch - 3, 0);
    wait(p, length / 20 + 1);
}

/* The tune as it is written, for the companion to know it; that of the session before is still there. */
static const struct us_score *written(struct player *p)
{
    static struct us_note pages[2][TUNE_NOTES];
    static struct us_chord_span harmonies[2][TUNE_NOTES];
    static struct us_score scores[2];
    static int turn;
    turn = !turn;
    struct us_note *notes = pages[turn];
    struct us_chord_span *chords = harmonies[turn];
    double at = 0;
    for (int i = 0; i < TUNE_NOTES; i++) {
        double len = p->tune[i].sixteenths / (double)QUARTER_STEPS;
        enum us_role role = (enum us_role)(US_ROLE_I + any(p, 3));
        notes[i] = (struct us_note){at, len, (int16_t)pitch_of(p, p->tune[i].step), 80};
        chords[i] = (struct us_chord_span){at, len, us_chord_primary(p->key, role)};
        at += len;
    }
    struct us_tune tune = {.notes = notes,
                           .note_count = TUNE_NOTES,
                           .chords = chords,
                           .chord_count = chance(p, 500) ? TUNE_NOTES : 0,
                           .key = p->key,
                           .metre = p->metre,
                           .title = "soak"};
    return us_score_init(&scores[turn], &tune) ? &scores[turn] : NULL;
}

/* A book with that tune in it. */
static const struct us_songbook *book_of(const struct us_score *score)
{
    static const struct us_score *songs[2];
    static struct us_song_opening openings[2];
    static const struct us_songbook BOOKS[2] = {{&songs[0], &openings[0], 1}, {&songs[1], &openings[1], 1}};
    static int turn;
    if (!score) return NULL;
    turn = !turn;
    songs[turn] = score;
    us_song_opening(&openings[turn], score);
    return &BOOKS[turn];
}

static struct us_companion_settings any_settings(struct player *p)
{
    bool told = chance(p, 500), known = chance(p, 300);
    const struct us_score *tune = known || chance(p, 200) ? written(p) : NULL;
    struct us_loop_part loop = {.first = 4, .last = 15};
    struct us_drill drill = {0};
    if (chance(p, 100)) us_drill_parse("C,Eb,F#m", &drill, NULL);
    return (struct us_companion_settings){.tune = known ? tune : NULL,
                                          .loop = known && chance(p, 300) ? loop : (struct us_loop_part){0},
                                          .songbook = known ? NULL : book_of(tune),
                                          .drill = drill,
                                          .match_keyboard = chance(p, 100),
                                          .texture = any(p, US_TEXTURES),
                                          .chords = any(p, 3),
                                          .change = any(p, 4),
                                          .key = chance(p, 300) ? p->key : (struct us_key){US_NO_KEY, 0},
                                          .metre = told ? p->metre : (struct us_metre){0, 0},
                                          .pickup = told ? 0 : -1,
                                          .second_voice = chance(p, 400) ? any(p, 4) : US_SECOND_NONE,
                                          .round_bars = (int)any(p, 5),
                                          .share = chance(p, 300)   ? (int)any(p, 101)
                                                   : chance(p, 100) ? US_SHARE_AUTO
                                                                    : 100,
                                          .sound_shift = chance(p, 200) ? (int)any(p, 25) - 12 : 0};
}

/* One player's turn: a tune, over and over, in this key and that. */
static void session(struct player *p, uint64_t until_notes)
{
    static const struct us_metre METRES[] = {{4, 4}, {3, 4}, {2, 4}, {6, 8}};
    p->key = (struct us_key){(int8_t)any(p, 12), (uint8_t)any(p, US_MODES)};
    p->metre = METRES[any(p, 4)];
    p->quarter_ns = 60000000000 / (45 + any(p, 140));
    new_tune(p);
    struct us_companion_settings settings = any_settings(p);
    if (p->notes && chance(p, 300)) /* the last session ended in a panic */
        us_companion_go_on(p->watched.companion, &settings);
    else
        us_companion_init(p->watched.companion, &settings);
    watched_settings(&p->watched);
    int64_t start_ns = p->watched.now_ns;
    while (p->notes < until_notes && !p->watched.promises.broken[0]) {
        if (chance(p, 150)) p->key.tonic = (int8_t)any(p, 12);
        if (chance(p, 100)) p->quarter_ns = 60000000000 / (45 + any(p, 140));
        for (int i = 0; i < TUNE_NOTES && p->notes < until_notes; i++) {
            interrupt(p);
            play_note(p, i);
            if (chance(p, 15)) i = i < 4 ? -1 : i - 4; /* goes back a little */
        }
    }
    let_all_go(p);
    send(p, US_EVENT_PANIC, 0, 0);
    invariants_silent(&p->watched.promises);
    if (p->watched.now_ns < start_ns) abort();
}

/* Plays that many notes; returns a hash of all that was answered. */
static uint64_t evening(uint64_t seed, uint64_t notes, struct player *p)
{
    void *companion = malloc(us_companion_size());
    if (!companion) abort();
    *p = (struct player){.random = seed, .watched.companion = companion};
    while (p->notes < notes && !p->watched.promises.broken[0])
        session(p, p->notes + SESSION_NOTES < notes ? p->notes + SESSION_NOTES : notes);
    free(companion);
    return p->watched.promises.hash;
}

static long resident_kb(void)
{
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    return usage.ru_maxrss;
}

static int fail(const char *what)
{
    printf("not ok - %s\n", what);
    return 1;
}

int main(int argc, char **argv)
{
    uint64_t notes = argc > 1 ? strtoull(argv[1], NULL, 10) : 1000000;
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    static struct player p;
    uint64_t first = evening(seed, notes / 20, &p);
    if (p.watched.promises.broken[0]) return fail(p.watched.promises.broken);
    if (evening(seed, notes / 20, &p) != first) return fail("the same seed gives other actions");
    if (evening(seed + 1, notes / 20, &p) == first) return fail("another seed gives the same actions");
    long before = resident_kb();
    size_t heap = mallinfo2().uordblks;
    evening(seed + 2, notes, &p);
    if (p.watched.promises.broken[0]) return fail(p.watched.promises.broken);
    if (resident_kb() > before + 256) return fail("the memory grows");
    if (mallinfo2().uordblks != heap) return fail("memory is not given back");
    printf("ok - %llu notes played, %llu struck or passed on, %llu ticks, %.0f hours\n",
           (unsigned long long)p.notes, (unsigned long long)p.watched.promises.note_ons,
           (unsigned long long)p.watched.ticks, (double)p.watched.now_ns / 3.6e12);
    return 0;
}
