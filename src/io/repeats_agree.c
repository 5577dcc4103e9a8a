#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "repeats.h"

enum { ROUNDS = 3, VOTES = 64, LENGTHS = 64, HALF_OF_ALL = 2 };

/* What was played where one note of the tune stands, in all times through. */
struct place {
    uint8_t pitch[VOTES]; /* as the tune is written */
    uint16_t votes, missed, extras;
    uint8_t extra[VOTES]; /* added after it */
    float len[LENGTHS];   /* quarters to the next note, where nothing came between */
    uint16_t lens;
};

static int by_size(const void *a, const void *b)
{
    float one = *(const float *)a, other = *(const float *)b;
    return (one > other) - (one < other);
}

/* The pitch with most votes; of two with as many the later one, which may have been put right. */
static int most_voted(const uint8_t *pitch, int count, int *votes)
{
    int best = count ? pitch[count - 1] : 0;
    *votes = 0;
    for (int i = count - 1; i >= 0; i--) {
        int same = 0;
        for (int k = 0; k < count; k++)
            same += pitch[k] == pitch[i];
        if (same > *votes) *votes = same, best = pitch[i];
    }
    return best;
}

static void vote(uint8_t *list, uint16_t *count, int pitch)
{
    if (*count < VOTES && pitch >= 0 && pitch < US_PITCHES) list[(*count)++] = (uint8_t)pitch;
}

/* Counts one aligned session. */
static void count_session(const struct us_session *session, const struct us_aligned *aligned,
                          struct place *places, double *quarter_sum, size_t *quarters)
{
    for (size_t i = 0; i < session->count; i++) {
        const struct us_aligned *a = &aligned[i];
        int pitch = session->played[i].pitch - a->shift;
        if (a->note < 0) continue;
        struct place *p = &places[a->note];
        if (a->kind == US_ALIGN_EXTRA) {
            vote(p->extra, &p->extras, pitch);
            continue;
        }
        vote(p->pitch, &p->votes, pitch);
        for (int m = 1; m <= a->missed && m <= a->note; m++)
            places[a->note - m].missed++;
        if (!i || a->begins || a->missed || a[-1].kind == US_ALIGN_EXTRA || a->quarter_ns <= 0) continue;
        struct place *before = &places[a[-1].note];
        double gap = (double)(session->played[i].at_ns - session->played[i - 1].at_ns);
        if (before->lens < LENGTHS) before->len[before->lens++] = (float)(gap / a->quarter_ns);
        *quarter_sum += a->quarter_ns;
        ++*quarters;
    }
}

static bool count_all(const struct us_session *sessions, size_t count, const struct us_tune *tune,
                      struct place *places, double *quarter_ns, uint32_t *times)
{
    double sum = 0;
    size_t quarters = 0;
    *times = 0;
    for (size_t s = 0; s < count; s++) {
        void *workspace = malloc(us_align_workspace(sessions[s].count, tune->note_count) + 1);
        struct us_aligned *aligned = calloc(sessions[s].count + 1, sizeof *aligned);
        bool good = workspace && aligned;
        if (good &&
            us_align(sessions[s].played, sessions[s].count, tune, workspace, aligned) >= US_ALIGN_MAY_FIT)
            count_session(&sessions[s], aligned, places, &sum, &quarters);
        free(workspace);
        free(aligned);
        if (!good) return false;
    }
    for (size_t i = 0; i < tune->note_count; i++)
        if (places[i].votes > *times) *times = places[i].votes;
    *quarter_ns = quarters ? sum / (double)quarters : 6e8;
    return true;
}

/* Of the lengths that were heard the middle one, of two the shorter: waits only lengthen. */
static double middle_length(struct place *p, double as_it_was)
{
    if (!p->lens) return as_it_was;
    qsort(p->len, p->lens, sizeof *p->len, by_size);
    return repeats_note_length((double)p->len[(p->lens - 1) / 2]);
}

/* The notes that most times through have; `out` has room for two for each of the tune's. */
static size_t settle(const struct us_note *notes, size_t count, struct place *places, struct us_note *out)
{
    double at = 0;
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        struct place *p = &places[i];
        int same, all = p->votes + p->missed;
        double len = middle_length(p, notes[i].len);
        if (p->votes >= p->missed) {
            int pitch = p->votes ? most_voted(p->pitch, p->votes, &same) : notes[i].pitch;
            out[kept++] = (struct us_note){at, len, (int16_t)pitch, 70};
        }
        int extra = most_voted(p->extra, p->extras, &same);
        if (all > 1 && HALF_OF_ALL * same > all) {
            if (kept) out[kept - 1].len = len / 2;
            out[kept++] = (struct us_note){at + len / 2, len / 2, (int16_t)extra, 70};
        }
        at += len;
    }
    return kept;
}

bool repeats_agree(const struct us_session *sessions, size_t count, struct us_note **notes,
                   size_t *note_count, double *seconds, uint32_t *times)
{
    bool good = true;
    for (int round = 0; round < ROUNDS && good; round++) {
        struct us_tune tune = {.notes = *notes, .note_count = *note_count, .metre = {4, 4}, .title = ""};
        struct place *places = calloc(*note_count + 1, sizeof *places);
        struct us_note *settled = calloc(2 * *note_count + 1, sizeof *settled);
        double quarter_ns = 0;
        good = places && settled && count_all(sessions, count, &tune, places, &quarter_ns, times);
        if (good) {
            *note_count = settle(*notes, *note_count, places, settled);
            *seconds = quarter_ns / 1e9;
            free(*notes);
            *notes = settled;
        } else {
            free(settled);
        }
        free(places);
    }
    return good;
}
