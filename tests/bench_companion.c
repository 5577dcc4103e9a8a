/* Time of one step of the companion, in microseconds of the processor's time: median, 99th percentile and
   worst, for simulated learners on tunes made up by chance; alone, with the metre to be found, and with a
   songbook of 1,000 tunes open.  usage: bench_companion [NOTES] */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "players.h"
#include "undersong/companion.h"

enum { BOOK = 1000, TUNE_NOTES = 160 };

struct made_tune {
    struct us_note notes[TUNE_NOTES];
    struct us_chord_span chord;
    struct us_score score;
};

enum { ANSWERS, BETWEEN, SORTS };
struct times {
    float *us[SORTS];
    size_t count[SORTS], room;
};

static unsigned state = 1;

static unsigned chance(unsigned below)
{
    state = state * 1664525u + 1013904223u;
    return (unsigned)(((uint64_t)state * below) >> 32);
}

/* Bars of 4/4 filled with eighths, quarters and halves, up and down the scale of C. */
static void make_tune(struct made_tune *t)
{
    double at = 0;
    int step = 7;
    for (int i = 0; i < TUNE_NOTES; i++) {
        double beat = at - (double)(int)at, len = beat > 0 ? 0.5 : (double[]){0.5, 1, 1, 2}[chance(4)];
        step += (int)chance(7) - 3 + (step < 4) - (step > 14);
        if (step < 0) step = 0;
        int pitch = 55 + us_mode_step_semitones(US_MODE_MAJOR, step % 7 + 1) + 12 * (step / 7);
        t->notes[i] = (struct us_note){at, len, (int16_t)pitch, 80};
        at += len;
    }
    t->chord = (struct us_chord_span){0, at, {0, US_CHORD_MAJ}};
    struct us_tune tune = {.notes = t->notes,
                           .note_count = TUNE_NOTES,
                           .chords = &t->chord,
                           .chord_count = 1,
                           .key = {0, US_MODE_MAJOR},
                           .metre = {4, 4},
                           .title = "made up"};
    us_score_init(&t->score, &tune);
}

static double now_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e6 + (double)t.tv_nsec / 1e3;
}

static void step(struct us_companion *c, const struct us_event *event, struct times *times)
{
    struct us_actions actions;
    double before = now_us();
    us_companion_step(c, event, &actions);
    double took = now_us() - before;
    int sort = event->kind == US_EVENT_NOTE_ON ? ANSWERS : BETWEEN;
    if (times->count[sort] < times->room) times->us[sort][times->count[sort]++] = (float)took;
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
    for (size_t i = 0; i < p->note_count && times->count[ANSWERS] < times->room; i++) {
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

static void report(const char *name, const char *sort, float *us, size_t count)
{
    qsort(us, count, sizeof *us, order);
    printf("%-31s %-8s %zu steps: median %.1f us, 99 %% %.1f us, 99.9 %% %.1f us, worst %.1f us\n", name,
           sort, count, (double)us[count / 2], (double)us[count * 99 / 100], (double)us[count * 999 / 1000],
           (double)us[count - 1]);
}

static void run(const char *name, const struct us_companion_settings *settings, const struct made_tune *tunes,
                struct times *times)
{
    struct us_companion *c = malloc(us_companion_size());
    if (!c) exit(1);
    us_companion_init(c, settings);
    times->count[ANSWERS] = times->count[BETWEEN] = 0;
    int64_t from_ns = 0;
    for (unsigned turn = 0; times->count[ANSWERS] < times->room; turn++) {
        struct performance p;
        const struct made_tune *t = &tunes[chance(BOOK)];
        if (!player_perform(PLAYER_LEARNER, t->notes, TUNE_NOTES, 4, 0, 66 + chance(60), turn + 1, &p))
            exit(1);
        play(c, &p, &from_ns, times);
        performance_finish(&p);
    }
    for (int sort = 0; sort < SORTS; sort++)
        report(name, sort == ANSWERS ? "a note" : "between", times->us[sort], times->count[sort]);
    free(c);
}

int main(int argc, char **argv)
{
    struct made_tune *tunes = calloc(BOOK, sizeof *tunes);
    const struct us_score **songs = calloc(BOOK, sizeof *songs);
    struct us_song_opening *openings = calloc(BOOK, sizeof *openings);
    struct times times = {.room = argc > 1 ? (size_t)atol(argv[1]) : 300000};
    for (int sort = 0; sort < SORTS; sort++)
        times.us[sort] = malloc(times.room * sizeof *times.us[sort]);
    if (!tunes || !songs || !openings || !times.us[ANSWERS] || !times.us[BETWEEN]) return 1;
    for (int i = 0; i < BOOK; i++) {
        make_tune(&tunes[i]);
        songs[i] = &tunes[i].score;
        us_song_opening(&openings[i], songs[i]);
    }
    struct us_songbook book = {songs, openings, BOOK};
    struct us_companion_settings settings = {
        .chords = US_CHORDS_PRIMARY, .key = {US_NO_KEY, 0}, .metre = {4, 4}, .pickup = 0, .share = 100};
    run("metre given", &settings, tunes, &times);
    settings.metre.top = 0;
    settings.pickup = -1;
    run("metre to be found", &settings, tunes, &times);
    settings.songbook = &book;
    run("and a songbook of 1,000 tunes", &settings, tunes, &times);
    for (int sort = 0; sort < SORTS; sort++)
        free(times.us[sort]);
    free(openings);
    free(songs);
    free(tunes);
    return 0;
}
