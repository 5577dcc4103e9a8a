#include <string.h>

#include "review_write.h"

const char *review_times(uint32_t count, char out[24])
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

const char *review_bar_name(const struct us_review *review, uint32_t bar, char out[32])
{
    int32_t number = review->bars[bar].number;
    while (number < 0 && bar > 0)
        number = review->bars[--bar].number;
    if (number > 0)
        snprintf(out, 32, "bar %d", number);
    else
        snprintf(out, 32, "pickup");
    return out;
}

static void print_bars(const struct us_review *review, FILE *out)
{
    char name[32];
    fputs("\nBar by bar\n           times  notes  wrong  missed  waits  quarters a minute  even within\n",
          out);
    for (size_t b = 0; b < review->bar_count; b++) {
        const struct us_review_bar *bar = &review->bars[b];
        if (!bar->times) continue;
        review_bar_name(review, (uint32_t)b, name);
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
                us_key_name(r->key, name, sizeof name), review_times(r->times, often),
                percent(r->right, r->notes), r->waits, r->waits == 1 ? "" : "s");
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
        fprintf(out, "  %zu  %s, %.1f minutes, %u note%s", s + 1, session->name, session->minutes,
                session->played, session->played == 1 ? "" : "s");
        if (session->key.tonic != US_NO_KEY) fprintf(out, ", %s", us_key_name(session->key, key, sizeof key));
        fputc('\n', out);
        if (session->known)
            fprintf(out, "     %s through, %.0f of 100 notes right, %u wait%s, %.0f quarters a minute\n",
                    review_times(session->takes, often), percent(session->right, session->notes),
                    session->waits, session->waits == 1 ? "" : "s", session->tempo);
        else if (review->tune_known)
            fputs("     something else was played\n", out);
        else
            fprintf(out, session->pauses ? "     %u long pause%s\n" : "     no long pause\n", session->pauses,
                    session->pauses == 1 ? "" : "s");
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
                review_times(review->from_repeats, often));
    else if (review->tune_known)
        fprintf(out, "%s, written in %s\n", *review->title ? review->title : "The tune",
                us_key_name(review->key, key, sizeof key));
    if (!review->tune_known)
        fputs("Which tune it was is not known, so only keys and pauses can be told.\n", out);
    else if (!review->take_count)
        fprintf(out, "%zu session%s; this tune was not found in what was played\n", review->session_count,
                review->session_count == 1 ? "" : "s");
    else
        fprintf(out, "%zu session%s, %s through, %u notes, %.0f of 100 right at the first try\n",
                review->session_count, review->session_count == 1 ? "" : "s",
                review_times((uint32_t)review->take_count, often), notes, percent(right, notes));
    if (review->take_count) {
        write_review_stumbles(review, out);
        print_bars(review, out);
        print_keys(review, out);
    }
    print_sessions(review, out);
}
