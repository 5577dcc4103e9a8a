/* Where a review stumbled: the marks of each bar, those that say the same told once. */
#include <stdlib.h>

#include "beat_name.h"
#include "review_write.h"

/* What a mark says: the same for marks of one kind, on one note, with one thing played instead.  Of several
   the first one stands for all. */
struct story {
    uint32_t bar;
    double beat;
    int kind, wanted,
        off; /* the last two of a wrong note: in the tune's own key, and what was played instead */
    size_t mark;
    uint32_t count;
    double seconds;
};

/* "4", "b7", "#4" in the key played. */
static void step_name(struct us_key key, int pitch, char out[8])
{
    static const char *const SIGNS[] = {"b", "", "#"};
    struct us_step step = us_key_step(key, pitch);
    snprintf(out, 8, "%s%d", SIGNS[step.alter + 1], step.number);
}

static int compare(double a, double b)
{
    return (a > b) - (a < b);
}

static int by_what_is_said(const void *a, const void *b)
{
    const struct story *x = a, *y = b;
    int order = x->bar != y->bar ? (x->bar < y->bar ? -1 : 1) : compare(x->beat, y->beat);
    if (!order) order = x->kind - y->kind;
    if (!order) order = x->wanted - y->wanted;
    if (!order) order = x->off - y->off;
    return order ? order : x->mark < y->mark ? -1 : x->mark > y->mark;
}

static int by_place(const void *a, const void *b)
{
    const struct story *x = a, *y = b;
    int order = x->bar != y->bar ? (x->bar < y->bar ? -1 : 1) : compare(x->beat, y->beat);
    return order ? order : x->mark < y->mark ? -1 : x->mark > y->mark;
}

static bool same(const struct story *a, const struct story *b)
{
    return a->bar == b->bar && compare(a->beat, b->beat) == 0 && a->kind == b->kind &&
           a->wanted == b->wanted && a->off == b->off;
}

static struct story story_of(const struct us_review *review, size_t m)
{
    const struct us_review_mark *mark = &review->marks[m];
    bool wrong = mark->kind == US_REVIEW_WRONG;
    return (struct story){.bar = mark->bar,
                          .beat = mark->beat,
                          .kind = mark->kind,
                          .wanted = wrong ? mark->wanted - review->takes[mark->take].shift : 0,
                          .off = wrong ? mark->played - mark->wanted : 0,
                          .mark = m,
                          .count = 1,
                          .seconds = mark->seconds};
}

/* A fresh array, in the order of bars and beats; NULL without memory. */
static struct story *collect(const struct us_review *review, size_t *count)
{
    struct story *stories = calloc(review->mark_count + 1, sizeof *stories);
    *count = 0;
    for (size_t m = 0; stories && m < review->mark_count; m++)
        stories[m] = story_of(review, m);
    if (!stories || !review->mark_count) return stories;
    qsort(stories, review->mark_count, sizeof *stories, by_what_is_said);
    for (size_t m = 1; m < review->mark_count; m++) {
        struct story *told = &stories[*count];
        if (same(told, &stories[m]))
            told->count++, told->seconds += stories[m].seconds;
        else
            stories[++*count] = stories[m];
    }
    ++*count;
    qsort(stories, *count, sizeof *stories, by_place);
    return stories;
}

static void print_story(const struct us_review *review, const struct story *story, FILE *out)
{
    const struct us_review_mark *mark = &review->marks[story->mark];
    struct us_key key = review->takes[mark->take].key;
    char often[24], wanted[8] = "it", played[8] = "another", place[BEAT_NAME];
    if (key.tonic != US_NO_KEY) {
        step_name(key, mark->wanted, wanted);
        if (mark->played >= 0) step_name(key, mark->played, played);
    }
    fprintf(out, "    %s: ", beat_name(mark->beat, place));
    switch (mark->kind) {
    case US_REVIEW_WRONG:
        fprintf(out, "%s played where %s belongs, %s%s%s%s\n", played, wanted,
                review_times(story->count, often), mark->cause ? " (" : "",
                us_review_mark_cause_words((enum us_review_mark_cause)mark->cause), mark->cause ? ")" : "");
        break;
    case US_REVIEW_ADDED: fprintf(out, "a note too many, %s\n", review_times(story->count, often)); break;
    case US_REVIEW_MISSED:
        fprintf(out, "%s left out, %s\n", wanted, review_times(story->count, often));
        break;
    case US_REVIEW_WAITED:
        fprintf(out, "waited before %s, %s, %.1f s in all\n", wanted, review_times(story->count, often),
                story->seconds);
        break;
    default: fprintf(out, "went back to %s, %s\n", wanted, review_times(story->count, often)); break;
    }
}

void write_review_stumbles(const struct us_review *review, FILE *out)
{
    size_t count;
    struct story *stories = collect(review, &count);
    fputs("\nWhere it stumbled\n", out);
    if (!review->mark_count) fputs("  Nowhere: every note was right and in time.\n", out);
    for (size_t i = 0; i < count; i++) {
        char name[32], often[24];
        uint32_t bar = stories[i].bar;
        if (i == 0 || stories[i - 1].bar != bar)
            fprintf(out, "  %s, played %s\n", review_bar_name(review, bar, name),
                    review_times(review->bars[bar].times, often));
        print_story(review, &stories[i], out);
    }
    free(stories);
}
