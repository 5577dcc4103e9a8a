/* Time of one step of the companion, in microseconds of this thread's processor time, so that waiting for the
   processor does not count: median, 99 %, 99.9 % and worst, for simulated learners on tunes made up by
   chance; alone, with the metre to be found, with a songbook of 1,000 tunes open, and with one whose tunes
   are as long as any that is followed.  A step is one call of us_companion_step: `a note` has a key that goes
   down, `between` one that comes up, or a tick.  Reading the clock is part of what is measured and is printed
   first.  Everything is played RUNS times over, the same to the last bit: `once` are the times of the first
   run, `least` for each step the least of them all, which leaves out interrupts and what other programs took
   of the processor's caches, but nothing that the step itself does. usage: bench_companion [NOTES], in
   thousands; a million where none are given */
#include "bench_time.h"

#include <stdio.h>
#include <stdlib.h>

#include "players.h"
#include "undersong/companion.h"

enum { BOOK = 1000, TUNE_NOTES = 160, LONG_TUNE_NOTES = 1500, RUNS = 3 };

struct made_tune {
    struct us_note notes[LONG_TUNE_NOTES];
    struct us_chord_span chord;
    struct us_score score;
};

enum { ANSWERS, BETWEEN, SORTS };
struct times {
    float *once[SORTS], *least[SORTS];
    size_t count[SORTS], room[SORTS];
    bool first_run;
};

static unsigned state = 1;

static unsigned chance(unsigned below)
{
    state = state * 1664525u + 1013904223u;
    return (unsigned)(((uint64_t)state * below) >> 32);
}

/* Bars of 4/4 filled with eighths, quarters and halves, up and down the scale of C. */
static void make_tune(struct made_tune *t, size_t count)
{
    double at = 0;
    int step = 7;
    for (size_t i = 0; i < count; i++) {
        double beat = at - (double)(int)at, len = beat > 0 ? 0.5 : (double[]){0.5, 1, 1, 2}[chance(4)];
        step += (int)chance(7) - 3 + (step < 4) - (step > 14);
        if (step < 0) step = 0;
        int pitch = 55 + us_mode_step_semitones(US_MODE_MAJOR, step % 7 + 1) + 12 * (step / 7);
        t->notes[i] = (struct us_note){at, len, (int16_t)pitch, 80};
        at += len;
    }
    t->chord = (struct us_chord_span){0, at, {0, US_CHORD_MAJ}};
    struct us_tune tune = {.notes = t->notes,
                           .note_count = count,
                           .chords = &t->chord,
                           .chord_count = 1,
                           .key = {0, US_MODE_MAJOR},
                           .metre = {4, 4},
                           .title = "made up"};
    us_score_init(&t->score, &tune);
}

static void step(struct us_companion *c, const struct us_event *event, struct times *times)
{
    struct us_actions actions;
    double before = bench_us(CLOCK_THREAD_CPUTIME_ID);
    us_companion_step(c, event, &actions);
    double took = bench_us(CLOCK_THREAD_CPUTIME_ID) - before;
    int sort = event->kind == US_EVENT_NOTE_ON ? ANSWERS : BETWEEN;
    size_t i = times->count[sort];
    if (i >= times->room[sort]) return;
    times->count[sort]++;
    if (times->first_run) times->once[sort][i] = times->least[sort][i] = (float)took;
    if ((float)took < times->least[sort][i]) times->least[sort][i] = (float)took;
}

static void ticks_until(struct us_companion *c, int64_t until_ns, struct times *times)
{
    int64_t due;
    while ((due = us_companion_due(c)) < until_ns) {
        struct us_event tick = {.at_ns = due, .kind = US_EVENT_TICK};
        step(c, &tick, times);
        if (us_companion_due(c) <= due) return;
    }
}

static void play(struct us_companion *c, const struct performance *p, int64_t *from_ns, struct times *times)
{
    int64_t last = *from_ns;
    for (size_t i = 0; i < p->note_count && times->count[ANSWERS] < times->room[ANSWERS]; i++) {
        const struct played_note *n = &p->notes[i];
        struct us_event on = {.at_ns = *from_ns + (int64_t)(n->on_s * 1e9),
                              .kind = US_EVENT_NOTE_ON,
                              .pitch = (uint8_t)n->pitch,
                              .velocity = (uint8_t)n->velocity};
        struct us_event off = on;
        off.at_ns = *from_ns + (int64_t)(n->off_s * 1e9);
        off.kind = US_EVENT_NOTE_OFF;
        if (i + 1 < p->note_count && p->notes[i + 1].on_s < n->off_s)
            off.at_ns = *from_ns + (int64_t)(p->notes[i + 1].on_s * 1e9) - 1;
        ticks_until(c, on.at_ns, times);
        step(c, &on, times);
        ticks_until(c, off.at_ns, times);
        step(c, &off, times);
        last = off.at_ns;
    }
    *from_ns = last + 12000000000;
}

static int order(const void *a, const void *b)
{
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

static void report(const char *sort, const char *which, float *us, size_t count)
{
    if (!count) return;
    qsort(us, count, sizeof *us, order);
    printf("  %-8s %-6s %8zu steps: median %5.1f, 99 %% %5.1f, 99.9 %% %5.1f, worst %5.1f us\n", sort, which,
           count, (double)us[count / 2], (double)us[count * 99 / 100], (double)us[count * 999 / 1000],
           (double)us[count - 1]);
}

static void play_all(const struct us_companion_settings *settings, const struct made_tune *tunes,
                     struct us_companion *c, struct times *times)
{
    int64_t from_ns = 0;
    state = 1;
    us_companion_init(c, settings);
    times->count[ANSWERS] = times->count[BETWEEN] = 0;
    for (unsigned turn = 0; times->count[ANSWERS] < times->room[ANSWERS]; turn++) {
        struct performance p;
        const struct made_tune *t = &tunes[chance(BOOK)];
        if (!player_perform(PLAYER_LEARNER, t->notes, t->score.count, 4, 0, 66 + chance(60), turn + 1, &p))
            exit(1);
        play(c, &p, &from_ns, times);
        performance_finish(&p);
    }
}

static void run(const char *name, const struct us_companion_settings *settings, const struct made_tune *tunes,
                size_t notes, struct times *times)
{
    struct us_companion *c = malloc(us_companion_size());
    if (!c) exit(1);
    times->room[ANSWERS] = notes;
    times->room[BETWEEN] = 3 * notes;
    for (int i = 0; i < RUNS; i++) {
        times->first_run = i == 0;
        play_all(settings, tunes, c, times);
    }
    printf("%s\n", name);
    for (int sort = 0; sort < SORTS; sort++) {
        report(sort == ANSWERS ? "a note" : "between", "once", times->once[sort], times->count[sort]);
        report(sort == ANSWERS ? "a note" : "between", "least", times->least[sort], times->count[sort]);
    }
    free(c);
}

static void report_clock(void)
{
    double least = 1e9;
    for (int i = 0; i < 10000; i++) {
        double before = bench_us(CLOCK_THREAD_CPUTIME_ID), took = bench_us(CLOCK_THREAD_CPUTIME_ID) - before;
        if (took < least) least = took;
    }
    printf("reading the clock: %.2f us of each step\n", least);
}

static void make_book(struct made_tune *tunes, const struct us_score **songs,
                      struct us_song_opening *openings, size_t notes)
{
    for (int i = 0; i < BOOK; i++) {
        make_tune(&tunes[i], notes);
        songs[i] = &tunes[i].score;
        us_song_opening(&openings[i], songs[i]);
    }
}

int main(int argc, char **argv)
{
    struct made_tune *tunes = calloc(BOOK, sizeof *tunes);
    const struct us_score **songs = calloc(BOOK, sizeof *songs);
    struct us_song_opening *openings = calloc(BOOK, sizeof *openings);
    size_t thousands = argc > 1 ? (size_t)atol(argv[1]) : 1000;
    struct times times = {0};
    for (int sort = 0; sort < SORTS; sort++) {
        size_t size = (size_t)(sort == ANSWERS ? 1 : 3) * 400 * thousands * sizeof(float);
        times.once[sort] = malloc(size);
        times.least[sort] = malloc(size);
        if (!times.once[sort] || !times.least[sort]) return 1;
    }
    if (!tunes || !songs || !openings) return 1;
    make_book(tunes, songs, openings, TUNE_NOTES);
    report_clock();
    struct us_songbook book = {songs, openings, BOOK};
    struct us_companion_settings settings = {
        .chords = US_CHORDS_PRIMARY, .key = {US_NO_KEY, 0}, .metre = {4, 4}, .pickup = 0, .share = 100};
    run("metre given", &settings, tunes, 300 * thousands, &times);
    settings.metre.top = 0;
    settings.pickup = -1;
    run("metre to be found", &settings, tunes, 400 * thousands, &times);
    settings.songbook = &book;
    run("and a songbook of 1,000 tunes", &settings, tunes, 300 * thousands, &times);
    make_book(tunes, songs, openings, LONG_TUNE_NOTES);
    run("and one of 1,000 tunes of 1,500 notes", &settings, tunes, 100 * thousands, &times);
    for (int sort = 0; sort < SORTS; sort++) {
        free(times.once[sort]);
        free(times.least[sort]);
    }
    free(openings);
    free(songs);
    free(tunes);
    return 0;
}
