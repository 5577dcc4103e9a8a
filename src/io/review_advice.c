#include <stdio.h>
#include <string.h>

#include "review_parts.h"

/* What is worth saying (chosen by us, no source): trouble in a bar nearly every second time, or a tempo that
   wavers by more than a ninth. */
static const double TROUBLE_EACH_TIME = 0.4, UNEVEN = 0.12;
enum { BARS_TOGETHER = 2 };

static double trouble(const struct us_review_bar *bar)
{
    return bar->times ? (bar->wrong + bar->missed + bar->waits) / (double)bar->times : 0;
}

/* The two bars on end that give most trouble. */
static size_t worst_bars(const struct us_review *review, double *most)
{
    size_t worst = 0;
    *most = 0;
    for (size_t b = 0; b < review->bar_count; b++) {
        double sum = 0;
        for (size_t i = b; i < b + BARS_TOGETHER && i < review->bar_count; i++)
            sum += trouble(&review->bars[i]);
        /* Of two places with the same trouble the one that begins with it. */
        if (sum > *most && trouble(&review->bars[b]) > 0) *most = sum, worst = b;
    }
    return worst;
}

static enum us_review_mark_cause main_cause(const struct us_review *review, size_t first, size_t last,
                                            uint32_t *times)
{
    uint32_t counts[US_CAUSES] = {0};
    enum us_review_mark_cause best = US_CAUSE_NONE;
    for (size_t m = 0; m < review->mark_count; m++)
        if (review->marks[m].bar >= first && review->marks[m].bar <= last &&
            review->marks[m].kind == US_REVIEW_WRONG)
            counts[review->marks[m].cause]++;
    for (int c = US_CAUSE_SKIP_AS_STEP; c < US_CAUSES; c++)
        if (counts[c] > counts[best] || (counts[c] && best == US_CAUSE_NONE))
            best = (enum us_review_mark_cause)c;
    *times = counts[best];
    return best;
}

static void say(char *text, size_t size, const char *words)
{
    size_t used = strlen(text);
    snprintf(text + used, size - used, "%s", words);
}

/* What went on in some bars on end. */
struct trouble {
    uint32_t wrong, waits, times;
};

static struct trouble sum_trouble(struct us_review *review, size_t first, size_t last)
{
    struct us_advice *advice = &review->advice;
    struct trouble sum = {0};
    for (size_t b = first; b <= last; b++) {
        const struct us_review_bar *bar = &review->bars[b];
        sum.wrong += bar->wrong + bar->missed;
        sum.waits += bar->waits;
        if (bar->times > sum.times) sum.times = bar->times;
        if (bar->number < 1) continue;
        if (!advice->from_bar) advice->from_bar = bar->number;
        advice->to_bar = bar->number;
    }
    return sum;
}

static void say_where(struct us_advice *advice)
{
    char where[48] = "the pickup";
    if (advice->from_bar == advice->to_bar && advice->from_bar)
        snprintf(where, sizeof where, "bar %d", advice->from_bar);
    else if (advice->from_bar)
        snprintf(where, sizeof where, "bars %d and %d", advice->from_bar, advice->to_bar);
    snprintf(advice->text, sizeof advice->text,
             "Play %s alone, slowly, a few times, then the whole tune again.  Reason: there ", where);
}

static void say_wrong(struct us_review *review, size_t first, size_t last, const struct trouble *sum)
{
    uint32_t of_cause;
    char part[160];
    const char *and = sum->waits ? " and " : "";
    enum us_review_mark_cause cause = main_cause(review, first, last, &of_cause);
    if (!sum->wrong) return;
    if (sum->wrong > 1)
        snprintf(part, sizeof part, "%s%u notes went wrong", and, sum->wrong);
    else
        snprintf(part, sizeof part, "%sone note went wrong", and);
    say(review->advice.text, sizeof review->advice.text, part);
    if (!of_cause) return;
    snprintf(part, sizeof part, " (%s%s)", of_cause < sum->wrong ? "most often " : "",
             us_review_mark_cause_words(cause));
    say(review->advice.text, sizeof review->advice.text, part);
}

static void advise_bars(struct us_review *review, size_t first, size_t last)
{
    struct us_advice *advice = &review->advice;
    struct trouble sum = sum_trouble(review, first, last);
    char part[160] = "";
    say_where(advice);
    if (sum.waits > 2)
        snprintf(part, sizeof part, "you waited %u times", sum.waits);
    else if (sum.waits)
        snprintf(part, sizeof part, "you waited %s", sum.waits == 2 ? "twice" : "once");
    say(advice->text, sizeof advice->text, part);
    say_wrong(review, first, last, &sum);
    *part = 0;
    if (sum.times > 1) snprintf(part, sizeof part, ", in %u times through", sum.times);
    say(advice->text, sizeof advice->text, part);
    say(advice->text, sizeof advice->text, ".");
}

static void advise_key(struct us_review *review)
{
    struct us_advice *advice = &review->advice;
    advice->key = review->next_key;
    us_next_key_words(review->next_key, review->next_reason, advice->text, sizeof advice->text);
}

static double mean_uneven(const struct us_review *review)
{
    double sum = 0;
    for (size_t t = 0; t < review->take_count; t++)
        sum += review->takes[t].uneven;
    return review->take_count ? sum / (double)review->take_count : 0;
}

void review_advise(struct us_review *review)
{
    struct us_advice *advice = &review->advice;
    advice->key.tonic = US_NO_KEY;
    review->next_key = us_next_key(review->keys, review->key_count, review->key, &review->next_reason);
    if (!review->take_count) {
        snprintf(advice->text, sizeof advice->text, "%s",
                 review->tune_known
                     ? "Play the tune once from its start to its end, so that there is something to tell."
                     : "Say which tune it was (--tune FILE), and the review can tell how each bar went.");
        return;
    }
    double most;
    size_t worst = worst_bars(review, &most);
    size_t last = worst + BARS_TOGETHER - 1 < review->bar_count ? worst + BARS_TOGETHER - 1 : worst;
    if (last > worst && trouble(&review->bars[last]) <= 0) last = worst;
    if (most >= TROUBLE_EACH_TIME)
        advise_bars(review, worst, last);
    else if (mean_uneven(review) > UNEVEN)
        snprintf(advice->text, sizeof advice->text,
                 "Play it slower, and count the beats aloud.  Reason: the notes are right, but their lengths "
                 "waver by %.0f percent.",
                 100 * mean_uneven(review));
    else
        advise_key(review);
}
