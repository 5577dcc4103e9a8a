#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "beat_name.h"
#include "review_write.h"

static const char *times(uint32_t count, char out[24])
{
    if (count == 1) return "once";
    if (count == 2) return "twice";
    snprintf(out, 24, "%u times", count);
    return out;
}

static double percent(uint32_t part, uint32_t whole)
{
    return whole ? 100.0 * part / whole : 0;
}

/* "4", "b7", "#4" in the key played. */
static void step_name(struct us_key key, int pitch, char out[8])
{
    static const char *const SIGNS[] = {"b", "", "#"};
    struct us_step step = us_key_step(key, pitch);
    snprintf(out, 8, "%s%d", SIGNS[step.alter + 1], step.number);
}

static void bar_name(const struct us_review *review, uint32_t bar, char out[32])
{
    int32_t number = review->bars[bar].number;
    while (number < 0 && bar > 0)
        number = review->bars[--bar].number;
    if (number > 0)
        snprintf(out, 32, "bar %d", number);
    else
        snprintf(out, 32, "pickup");
}

/* Marks that say the same: of one kind, on one note, with one thing played instead. */
static bool same_story(const struct us_review *review, const struct us_review_mark *a,
                       const struct us_review_mark *b)
{
    if (a->kind != b->kind || a->bar != b->bar || a->beat != b->beat) return false;
    if (a->kind != US_REVIEW_WRONG) return true;
    return a->wanted - review->takes[a->take].shift == b->wanted - review->takes[b->take].shift &&
           a->played - a->wanted == b->played - b->wanted;
}

static void print_story(const struct us_review *review, const struct us_review_mark *mark, uint32_t count,
                        double seconds, FILE *out)
{
    struct us_key key = review->takes[mark->take].key;
    char often[24], wanted[8] = "it", played[8] = "another", place[BEAT_NAME];
    if (key.tonic != US_NO_KEY) {
        step_name(key, mark->wanted, wanted);
        if (mark->played >= 0) step_name(key, mark->played, played);
    }
    fprintf(out, "    %s: ", beat_name(mark->beat, place));
    switch (mark->kind) {
    case US_REVIEW_WRONG:
        fprintf(out, "%s played where %s belongs, %s%s%s%s\n", played, wanted, times(count, often),
                mark->cause ? " (" : "", us_review_mark_cause_words((enum us_review_mark_cause)mark->cause),
                mark->cause ? ")" : "");
        break;
    case US_REVIEW_ADDED: fprintf(out, "a note too many, %s\n", times(count, often)); break;
    case US_REVIEW_MISSED: fprintf(out, "%s left out, %s\n", wanted, times(count, often)); break;
    case US_REVIEW_WAITED:
        fprintf(out, "waited before %s, %s, %.1f s in all\n", wanted, times(count, often), seconds);
        break;
    default: fprintf(out, "went back to %s, %s\n", wanted, times(count, often)); break;
    }
}

/* The next story of the bar that begins at or after `beat`, in the order of the beats; `mark_count` where
   none does. */
static size_t next_story(const struct us_review *review, uint32_t bar, double beat, size_t after)
{
    size_t best = review->mark_count;
    for (size_t m = 0; m < review->mark_count; m++) {
        const struct us_review_mark *mark = &review->marks[m];
        bool later = mark->beat > beat || (mark->beat >= beat && (after == SIZE_MAX || m > after));
        if (mark->bar != bar || !later) continue;
        if (best == review->mark_count || mark->beat < review->marks[best].beat) best = m;
    }
    return best;
}

static void print_bar_stories(const struct us_review *review, uint32_t bar, FILE *out)
{
    char name[32];
    bool head = false;
    size_t m = next_story(review, bar, 0, SIZE_MAX);
    for (; m < review->mark_count; m = next_story(review, bar, review->marks[m].beat, m)) {
        const struct us_review_mark *mark = &review->marks[m];
        bool told = false;
        for (size_t e = 0; e < m && !told; e++)
            told = same_story(review, &review->marks[e], mark);
        if (told) continue;
        uint32_t count = 0;
        double seconds = 0;
        for (size_t l = m; l < review->mark_count; l++)
            if (same_story(review, mark, &review->marks[l])) count++, seconds += review->marks[l].seconds;
        bar_name(review, bar, name);
        if (!head) fprintf(out, "  %s, played %s\n", name, times(review->bars[bar].times, (char[24]){0}));
        head = true;
        print_story(review, mark, count, seconds, out);
    }
}

static void print_stories(const struct us_review *review, FILE *out)
{
    fputs("\nWhere it stumbled\n", out);
    if (!review->mark_count) fputs("  Nowhere: every note was right and in time.\n", out);
    for (size_t b = 0; b < review->bar_count; b++)
        print_bar_stories(review, (uint32_t)b, out);
}

static void print_bars(const struct us_review *review, FILE *out)
{
    char name[32];
    fputs("\nBar by bar\n           times  notes  wrong  missed  waits  quarters a minute  even within\n",
          out);
    for (size_t b = 0; b < review->bar_count; b++) {
        const struct us_review_bar *bar = &review->bars[b];
        if (!bar->times) continue;
        bar_name(review, (uint32_t)b, name);
        fprintf(out, "  %-8s %5u  %5u  %5u  %6u  %5u  ", name, bar->times, bar->notes, bar->wrong,
                bar->missed, bar->waits);
        if (bar->tempo > 0)
            fprintf(out, "%17.0f  %9.0f %%\n", bar->tempo, 100 * bar->uneven);
        else
            fputs("                -            -\n", out);
    }
}

static void print_keys(const struct us_review *review, FILE *out)
{
    char name[40], often[24];
    fputs("\nKeys\n", out);
    for (size_t k = 0; k < review->key_count; k++) {
        const struct us_key_record *r = &review->keys[k];
        fprintf(out, "  %-14s %s through, %.0f of 100 notes right, %u wait%s\n",
                us_key_name(r->key, name, sizeof name), times(r->times, often), percent(r->right, r->notes),
                r->waits, r->waits == 1 ? "" : "s");
    }
    char words[200];
    us_next_key_words(review->next_key, review->next_reason, words, sizeof words);
    /* Said once: where it is the advice, it comes at the end. */
    if (strcmp(words, review->advice.text) != 0) fprintf(out, "  %s\n", words);
}

static void print_sessions(const struct us_review *review, FILE *out)
{
    char key[40], often[24];
    fputs("\nSession by session\n", out);
    for (size_t s = 0; s < review->session_count; s++) {
        const struct us_review_session *session = &review->sessions[s];
        fprintf(out, "  %zu  %s, %.1f minutes, %u notes", s + 1, session->name, session->minutes,
                session->played);
        if (session->key.tonic != US_NO_KEY) fprintf(out, ", %s", us_key_name(session->key, key, sizeof key));
        fputc('\n', out);
        if (session->known)
            fprintf(out, "     %s through, %.0f of 100 notes right, %u wait%s, %.0f quarters a minute\n",
                    times(session->takes, often), percent(session->right, session->notes), session->waits,
                    session->waits == 1 ? "" : "s", session->tempo);
        else if (review->tune_known)
            fputs("     something else was played\n", out);
        else
            fprintf(out, "     %u long pause%s\n", session->pauses, session->pauses == 1 ? "" : "s");
    }
    const struct us_review_session *first = NULL, *last = NULL;
    for (size_t s = 0; s < review->session_count; s++) {
        if (!review->sessions[s].known) continue;
        if (!first) first = &review->sessions[s];
        last = &review->sessions[s];
    }
    if (first && last != first)
        fprintf(
            out,
            "  From the first to the last: %.0f, then %.0f of 100 notes right; a wait every %.0f, then every "
            "%.0f notes.\n",
            percent(first->right, first->notes), percent(last->right, last->notes),
            (double)first->notes / (first->waits ? first->waits : 1),
            (double)last->notes / (last->waits ? last->waits : 1));
}

static void print_advice(const struct us_review *review, FILE *out)
{
    enum { WIDTH = 78 };
    fputs("\nWhat to practise next\n  ", out);
    int column = 2;
    for (const char *word = review->advice.text; *word;) {
        int length = (int)strcspn(word, " ");
        if (column > 2 && column + 1 + length > WIDTH) {
            fputs("\n  ", out);
            column = 2;
        } else if (column > 2) {
            fputc(' ', out);
            column++;
        }
        fprintf(out, "%.*s", length, word);
        column += length;
        word += length;
        while (*word == ' ')
            word++;
    }
    fputc('\n', out);
}

void write_review_text(const struct us_review *review, FILE *out)
{
    write_review_story(review, out);
    if (review->from_repeats) fputs("\nWith --tune FILE more can be told.\n", out);
    print_advice(review, out);
}

void write_review_story(const struct us_review *review, FILE *out)
{
    uint32_t notes = 0, right = 0;
    char key[40], often[24];
    for (size_t t = 0; t < review->take_count; t++)
        notes += review->takes[t].notes, right += review->takes[t].right;
    if (review->from_repeats)
        fprintf(out,
                "Which tune it was is not known, but it came %s.  Each time is held against what\n"
                "most of them agree on.\n",
                times(review->from_repeats, often));
    else if (review->tune_known)
        fprintf(out, "%s, written in %s\n", *review->title ? review->title : "The tune",
                us_key_name(review->key, key, sizeof key));
    if (review->tune_known) {
        fprintf(out, "%zu session%s, %s through, %u notes, %.0f of 100 right at the first try\n",
                review->session_count, review->session_count == 1 ? "" : "s",
                times((uint32_t)review->take_count, often), notes, percent(right, notes));
    } else {
        fputs("Which tune it was is not known, so only keys and pauses can be told.\n", out);
    }
    if (review->take_count) {
        print_stories(review, out);
        print_bars(review, out);
        print_keys(review, out);
    }
    print_sessions(review, out);
}
