/* From the page to what is played: notes, chords, slurs and bars in playing order. */
#include "undersong/plain_line.h"
#include "written.h"

#include <stdlib.h>
#include <string.h>

struct player {
    const struct us_written *written;
    struct us_tune_file *out;
    size_t first_note[US_WRITTEN_VOICES]; /* index of the first note of the bar at hand */
    size_t note_room[US_WRITTEN_VOICES], spelling_room, chord_room, slur_room, line_room;
    int64_t slur_from; /* -1: no slur is open */
    bool tied[US_WRITTEN_VOICES];
    bool failed, too_long;
};

static double quarters(int64_t ticks)
{
    return (double)ticks / US_TICKS;
}

static bool same_time(double a, double b)
{
    return a - b < 1e-6 && b - a < 1e-6;
}

static void mark_line(struct player *player, double at)
{
    struct us_tune *tune = &player->out->tune;
    if (!us_grow((void **)&player->out->lines, &player->line_room, tune->line_count, sizeof(double)))
        player->failed = true;
    else
        player->out->lines[tune->line_count++] = at;
}

static void mark_slurs(struct player *player, const struct us_written_note *note, int64_t at)
{
    struct us_tune *tune = &player->out->tune;
    if (note->flags & US_WRITTEN_SLUR_CLOSE && player->slur_from >= 0) {
        if (!us_grow((void **)&player->out->slurs, &player->slur_room, tune->slur_count,
                     sizeof(struct us_slur))) {
            player->failed = true;
            return;
        }
        player->out->slurs[tune->slur_count++] =
            (struct us_slur){quarters(player->slur_from), quarters(at + note->len - player->slur_from)};
        player->slur_from = -1;
    }
    if (note->flags & US_WRITTEN_SLUR_OPEN) player->slur_from = at;
}

static void play_note(struct player *player, int voice, const struct us_written_note *note, int64_t at)
{
    struct us_tune *tune = &player->out->tune;
    struct us_note **notes = voice ? &player->out->second : &player->out->notes;
    size_t *count = voice ? &tune->second_count : &tune->note_count;
    if (!voice) mark_slurs(player, note, at);
    struct us_note *before = *count ? &(*notes)[*count - 1] : NULL;
    bool joins = player->tied[voice] && before && before->pitch == note->pitch &&
                 same_time(before->at + before->len, quarters(at));
    player->tied[voice] = note->flags & US_WRITTEN_TIE;
    if (joins) {
        before->len = quarters(at + note->len) - before->at;
        return;
    }
    player->too_long = player->too_long || *count >= US_PLAYED_NOTES_MAX;
    if (player->too_long) return;
    if (!us_grow((void **)notes, &player->note_room[voice], *count, sizeof **notes) ||
        (!voice && !us_grow((void **)&player->out->spelling, &player->spelling_room, *count, 1))) {
        player->failed = true;
        return;
    }
    if (!voice && note->flags & US_WRITTEN_LINE) mark_line(player, quarters(at));
    if (!voice) player->out->spelling[*count] = note->spelling;
    (*notes)[(*count)++] = (struct us_note){quarters(at), quarters(note->len), note->pitch, 80};
}

static void play_chord(struct player *player, const struct us_written_chord *chord, double at)
{
    struct us_tune *tune = &player->out->tune;
    struct us_chord_span *list = player->out->chords;
    if (tune->chord_count) {
        struct us_chord_span *before = &list[tune->chord_count - 1];
        if (same_time(before->at, at)) tune->chord_count--;
    }
    if (tune->chord_count >= US_PLAYED_NOTES_MAX) return;
    if (!us_grow((void **)&player->out->chords, &player->chord_room, tune->chord_count, sizeof *list))
        player->failed = true;
    else
        player->out->chords[tune->chord_count++] = (struct us_chord_span){at, 0, chord->chord};
}

static void play_bar(struct player *player, const struct us_written_bar *bar, int64_t at)
{
    const struct us_written *w = player->written;
    for (int v = 0; v < US_WRITTEN_VOICES; v++) {
        size_t i = us_first_from(w->notes[v], w->note_count[v], sizeof *w->notes[v], bar->at);
        for (; i < w->note_count[v] && w->notes[v][i].at < bar->at + bar->len && !player->failed; i++)
            play_note(player, v, &w->notes[v][i], at + w->notes[v][i].at - bar->at);
    }
    size_t i = us_first_from(w->chords, w->chord_count, sizeof *w->chords, bar->at);
    for (; i < w->chord_count && w->chords[i].at < bar->at + bar->len && !player->failed; i++)
        play_chord(player, &w->chords[i], quarters(at + w->chords[i].at - bar->at));
}

/* Each chord lasts until the next, the last one until the end; "no chord" leaves a gap. */
static void close_chords(struct us_tune_file *out, double end)
{
    size_t kept = 0;
    for (size_t i = 0; i < out->tune.chord_count; i++) {
        struct us_chord_span span = out->chords[i];
        double until = i + 1 < out->tune.chord_count ? out->chords[i + 1].at : end;
        span.len = until - span.at;
        if (span.chord.root != US_NO_CHORD && span.len > 0) out->chords[kept++] = span;
    }
    out->tune.chord_count = kept;
}

static void fill_head(const struct us_written *written, struct us_tune_file *out)
{
    struct us_tune *tune = &out->tune;
    tune->key = written->key;
    tune->metre = written->metre;
    tune->quarters_a_minute = written->quarters_a_minute;
    out->number = written->number;
    if (written->bar_count && tune->metre.top) {
        double first = quarters(written->bars[0].len), bar = us_metre_bar_quarters(tune->metre);
        if (first < bar - 1e-6) tune->pickup = first;
    }
}

static void point_at_arrays(struct us_tune_file *out)
{
    struct us_tune *tune = &out->tune;
    tune->notes = out->notes;
    tune->spelling = out->spelling;
    tune->second = out->second;
    tune->chords = out->chords;
    tune->bars = out->bars;
    tune->slurs = out->slurs;
    tune->lines = out->lines;
    tune->title = out->title;
    tune->composer = out->composer;
}

static int64_t play_bars(struct player *player, const uint32_t *order, size_t count)
{
    int64_t at = 0;
    for (size_t i = 0; i < count; i++) {
        const struct us_written_bar *bar = &player->written->bars[order[i]];
        player->out->bars[i] = (struct us_bar){.at = quarters(at),
                                               .len = quarters(bar->len),
                                               .metre = bar->metre,
                                               .key = bar->key,
                                               .written = order[i],
                                               .endings = bar->endings,
                                               .repeat_times = bar->repeat_times,
                                               .repeat_from = bar->repeat_from,
                                               .closes = bar->closes};
        play_bar(player, bar, at);
        at += bar->len;
        player->too_long = player->too_long || at > US_WRITTEN_TICKS_MAX;
    }
    player->out->tune.bar_count = count;
    return at;
}

enum us_status us_written_play(const struct us_written *written, const char *name, struct us_tune_file *out,
                               struct us_error *error)
{
    memset(out, 0, sizeof *out);
    uint32_t *order;
    size_t count;
    enum us_status status = us_written_order(written, name, &order, &count, error);
    if (status) return status;
    struct player player = {.written = written, .out = out, .slur_from = -1};
    fill_head(written, out);
    out->title = us_plain_copy(written->title);
    out->composer = us_plain_copy(written->composer);
    out->bars = calloc(count + 1, sizeof *out->bars);
    player.failed = !out->bars || !out->title || !out->composer;
    if (!player.failed) close_chords(out, quarters(play_bars(&player, order, count)));
    free(order);
    if (player.failed || player.too_long) {
        us_tune_file_finish(out);
        if (player.failed)
            return us_error_set(error, US_STATUS_NO_MEMORY, "%s: no memory left for the tune", name);
        return us_error_set(
            error, US_STATUS_BAD_INPUT,
            "%s: with its repeats the tune has more than %d notes or %d quarters; take out repeats", name,
            US_PLAYED_NOTES_MAX, (int)(US_WRITTEN_TICKS_MAX / US_TICKS));
    }
    if (!out->tune.note_count) {
        us_tune_file_finish(out);
        return us_error_set(
            error, US_STATUS_BAD_INPUT,
            "%s: in the order of its parts the tune plays no note; mend the P: line of its head", name);
    }
    point_at_arrays(out);
    return US_STATUS_OK;
}
