/* The first words of a review: how much was played, and what went well.  Only what the figures say. */
#include "review_write.h"

static void how_much(const struct us_review *review, FILE *out)
{
    double minutes = 0;
    uint32_t notes = 0;
    for (size_t i = 0; i < review->session_count; i++)
        minutes += review->sessions[i].minutes, notes += review->sessions[i].played;
    if (minutes < 1.5)
        fprintf(out, "You played %u note%s", notes, notes == 1 ? "" : "s");
    else
        fprintf(out, "You played for %.0f minutes: %u notes", minutes, notes);
}

static void which_keys(const struct us_review *review, FILE *out)
{
    char name[40];
    us_pcset told[US_MODES] = {0};
    int count = 0;
    for (size_t i = 0; i < review->session_count && count < 4; i++) {
        struct us_key key = review->sessions[i].key;
        if (key.tonic == US_NO_KEY || us_pcset_has(told[key.mode], key.tonic)) continue;
        told[key.mode] |= (us_pcset)(1 << key.tonic);
        fprintf(out, "%s %s", count++ ? " and" : ", in", us_key_name(key, name, sizeof name));
    }
    fputs(".", out);
}

static double right_of(const struct us_take *take)
{
    return take->notes ? 100.0 * take->right / take->notes : 0;
}

/* The best that can be said truly of the times through. */
static void what_went_well(const struct us_review *review, FILE *out)
{
    const struct us_take *first = &review->takes[0], *last = &review->takes[review->take_count - 1];
    const struct us_take *best = first;
    for (size_t i = 1; i < review->take_count; i++)
        if (right_of(&review->takes[i]) > right_of(best)) best = &review->takes[i];
    if (best->right == best->notes && !best->added && best->whole)
        fputs(" Once through every note was right: well done.", out);
    else if (last != first && right_of(last) >= right_of(first) + 1)
        fprintf(out, " It is getting better: %.0f of 100 notes were right the first time, %.0f the last.",
                right_of(first), right_of(last));
    else
        fprintf(out, " At its best %.0f of 100 notes were right.", right_of(best));
}

void write_review_kindly(const struct us_review *review, FILE *out)
{
    how_much(review, out);
    which_keys(review, out);
    if (review->tune_known && review->take_count) what_went_well(review, out);
}
