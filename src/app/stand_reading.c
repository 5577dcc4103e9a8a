#include "stand_reading.h"

#include <stdlib.h>
#include <string.h>

#include "kept.h"
#include "review_write.h"
#include "undersong/review_picture.h"
#include "undersong/tune_file.h"

/* What was played in the last hours belongs to this evening. */
static const double EVENING_SECONDS = 6 * 3600;

struct stand_reading {
    struct us_review review;
    bool made;
    char *heading, *story;
};

/* The sessions of the evening that have notes; the others are let go. */
static struct us_session *load(size_t *count)
{
    struct inputs inputs;
    struct us_error ignored;
    *count = 0;
    if (kept_lately(EVENING_SECONDS, &inputs, &ignored)) return NULL;
    struct us_session *sessions = calloc(inputs.count, sizeof *sessions);
    for (size_t i = 0; i < inputs.count && sessions; i++) {
        if (us_session_load(inputs.paths[i], &sessions[*count], &ignored)) continue;
        if (sessions[*count].count)
            ++*count;
        else
            us_session_finish(&sessions[*count]);
    }
    inputs_finish(&inputs);
    return sessions;
}

/* Reviews the sessions against the tune, or without one where it cannot be read. */
static void judge(struct stand_reading *r, const struct us_session *sessions, size_t count, const char *tune)
{
    struct us_tune_file file = {0};
    struct us_error ignored;
    bool known = tune && us_tune_load_number(tune, 0, &file, &ignored) == US_STATUS_OK;
    r->made =
        us_review_make(&r->review, sessions, count, known ? &file.tune : NULL, &ignored) == US_STATUS_OK;
    us_tune_file_finish(&file);
}

static char *written(void (*write)(const struct us_review *review, FILE *out), const struct us_review *review)
{
    char *bytes = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&bytes, &size);
    if (!memory) return NULL;
    write(review, memory);
    if (!fclose(memory)) return bytes;
    free(bytes);
    return NULL;
}

struct stand_reading *stand_reading_make(const char *tune)
{
    struct stand_reading *r = calloc(1, sizeof *r);
    size_t count;
    if (!r) return NULL;
    struct us_session *sessions = load(&count);
    if (count) judge(r, sessions, count, tune);
    if (r->made) {
        r->heading = written(write_review_kindly, &r->review);
        r->story = written(write_review_story, &r->review);
    }
    for (size_t i = 0; i < count; i++)
        us_session_finish(&sessions[i]);
    free(sessions);
    return r;
}

void stand_reading_free(void *reading)
{
    struct stand_reading *r = reading;
    if (!r) return;
    if (r->made) us_review_finish(&r->review);
    free(r->heading);
    free(r->story);
    free(r);
}

const char *stand_reading_heading(const struct stand_reading *r)
{
    return r->heading ? r->heading : "Nothing is kept of this evening yet: play something, then look again.";
}

const char *stand_reading_advice(const struct stand_reading *r)
{
    if (!r->made) return "";
    if (!r->review.tune_known)
        return "Open the tune that you practise, and this page can tell how each bar of it went.";
    return r->review.advice.text;
}

int stand_reading_bar(const struct stand_reading *r)
{
    return r->made && r->review.tune_known && !r->review.from_repeats ? r->review.advice.from_bar : 0;
}

const char *stand_reading_story(const struct stand_reading *r)
{
    return r->story ? r->story : "";
}

double stand_reading_height(const struct stand_reading *r)
{
    return r->made ? us_review_height(&r->review) : 0;
}

void stand_reading_draw(const struct stand_reading *r, cairo_t *cr, double width, bool dark)
{
    if (r->made) us_review_draw(&r->review, cr, width, dark);
}
