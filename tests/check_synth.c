#include "support.h"

#include "undersong/limiter.h"
#include "undersong/synth.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { RATE_HZ = 48000, SECOND = RATE_HZ };
static float left[8 * SECOND], right[8 * SECOND];

static struct us_patch plain_patch(void)
{
    struct us_patch patch;
    us_patch_default(&patch);
    for (int v = 0; v < US_VOICES; v++) {
        patch.voice[v].program = 115; /* a wood block: a sharp start, soon over */
        patch.voice[v].reverb = 0;
    }
    return patch;
}

static struct us_synth *start(const struct us_patch *patch)
{
    struct us_synth *s;
    struct us_error error;
    ck_assert_msg(us_synth_create(&s, NULL, RATE_HZ, 1, patch, &error) == US_STATUS_OK, "%s", error.text);
    return s;
}

static void push(struct us_queue *q, uint8_t kind, int voice, int pitch, double at_frames)
{
    struct us_action a = {.at_ns = (int64_t)llround(at_frames * 1e9 / RATE_HZ),
                          .kind = kind,
                          .voice = (uint8_t)voice,
                          .pitch = (uint8_t)pitch,
                          .velocity = 100};
    ck_assert(us_queue_push(q, &a));
}

static long first_above(const float *x, long from, long count, float level)
{
    for (long i = from; i < count; i++)
        if (fabsf(x[i]) > level) return i;
    return -1;
}

/* Notes spread over every frame of a block begin the same number of frames after their time, within the eight
   frames that the header promises, whatever the size of the buffers. */
START_TEST(notes_start_on_their_frame)
{
    static const uint32_t SIZES[] = {64, 100, 256, 441, 1024};
    struct us_patch patch = plain_patch();
    for (size_t size = 0; size < sizeof SIZES / sizeof *SIZES; size++) {
        struct us_synth *s = start(&patch);
        struct us_queue *q = us_queue_create(0);
        enum { NOTES = 15, GAP = 24013 };
        long low = RATE_HZ, high = -RATE_HZ, frames = NOTES * (long)GAP;
        for (int i = 0; i < NOTES; i++) {
            push(q, US_ACTION_NOTE_ON, US_VOICE_LEFT, 60, 500 + (double)i * GAP);
            push(q, US_ACTION_ALL_OFF, US_VOICE_LEFT, 60, 500 + (double)i * GAP + 2000);
        }
        for (long at = 0; at < frames; at += SIZES[size]) {
            uint32_t n = frames - at < SIZES[size] ? (uint32_t)(frames - at) : SIZES[size];
            us_synth_render(s, q, left + at, right + at, 1, n);
            ck_assert_int_eq(us_synth_frame(s), at + n);
        }
        for (int i = 0; i < NOTES; i++) {
            long at = 500 + i * (long)GAP, begins = first_above(left, at - 100, at + 1000, 0.01f) - at;
            if (begins < low) low = begins;
            if (begins > high) high = begins;
        }
        ck_assert_msg(high - low <= 17 && low >= -8 && high < 48, "buffers of %u: from %ld to %ld frames",
                      SIZES[size], low, high);
        us_queue_destroy(q);
        us_synth_destroy(s);
    }
}
END_TEST

static float peak_of(const float *x, long from, long until)
{
    float peak = 0;
    for (long i = from; i < until; i++)
        peak = fmaxf(peak, fabsf(x[i]));
    return peak;
}

/* One that is half a second late is left out, one that is less late begins with the buffer. */
START_TEST(a_late_note_sounds_at_once)
{
    struct us_patch patch = plain_patch();
    struct us_synth *s = start(&patch);
    struct us_queue *q = us_queue_create(0);
    us_synth_render(s, q, left, right, 1, SECOND);
    ck_assert(peak_of(left, 0, SECOND) < 1e-4f);
    push(q, US_ACTION_NOTE_ON, US_VOICE_LEFT, 60, SECOND / 2 - 100);
    us_synth_render(s, q, left, right, 1, 512);
    ck_assert_int_lt(first_above(left, 0, 512, 0.005f), 0);
    push(q, US_ACTION_NOTE_ON, US_VOICE_LEFT, 60, SECOND - 2000);
    us_synth_render(s, q, left, right, 1, 512);
    long begins = first_above(left, 0, 512, 0.005f);
    ck_assert_msg(begins >= 0 && begins < 64, "begins at frame %ld", begins);
    us_queue_destroy(q);
    us_synth_destroy(s);
}
END_TEST

/* Struck again in another part of the block, a note leaves nothing behind that its release does not reach. */
START_TEST(nothing_stays)
{
    struct us_patch patch = plain_patch();
    for (int v = 0; v < US_VOICES; v++)
        patch.voice[v].program = 19; /* an organ: sounds as long as it is held */
    struct us_synth *s = start(&patch);
    struct us_queue *q = us_queue_create(0);
    for (int i = 0; i < 50; i++)
        push(q, US_ACTION_NOTE_ON, US_VOICE_MELODY, 60, i * 151);
    push(q, US_ACTION_NOTE_OFF, US_VOICE_MELODY, 60, 50 * 151);
    us_synth_render(s, q, left, right, 1, 3 * SECOND);
    ck_assert(peak_of(left, 7000, 7500) > 0.01f);
    ck_assert(peak_of(left, 2 * SECOND, 3 * SECOND) < 1e-3f);
    /* held by the pedal until it rises; then silenced in mid-note */
    struct us_action pedal = {
        .at_ns = 3000000000, .kind = US_ACTION_PEDAL, .voice = US_VOICE_MELODY, .velocity = 127};
    us_queue_push(q, &pedal);
    push(q, US_ACTION_NOTE_ON, US_VOICE_MELODY, 64, 3 * SECOND);
    push(q, US_ACTION_NOTE_OFF, US_VOICE_MELODY, 64, 3 * SECOND);
    us_synth_render(s, q, left, right, 1, SECOND);
    ck_assert(peak_of(left, SECOND - 4800, SECOND) > 0.01f);
    us_synth_silence(s, false);
    us_synth_render(s, q, left, right, 1, 3 * SECOND);
    ck_assert(peak_of(left, 2 * SECOND, 3 * SECOND) < 1e-3f);
    us_queue_destroy(q);
    us_synth_destroy(s);
}
END_TEST

START_TEST(starts_quiet)
{
    struct us_patch patch = plain_patch();
    patch.voice[0].program = 19;
    struct us_synth *s = start(&patch);
    struct us_queue *q = us_queue_create(0);
    us_synth_quiet_start(s);
    push(q, US_ACTION_NOTE_ON, US_VOICE_MELODY, 60, 0);
    us_synth_render(s, q, left, right, 1, 4 * SECOND);
    float begin = peak_of(left, 0, 480), early = peak_of(left, 4800, 9600),
          full = peak_of(left, 3 * SECOND, 4 * SECOND);
    ck_assert_msg(begin < 0.2f * full, "%f of %f", begin, full);
    ck_assert_msg(early < 0.75f * full, "%f of %f", early, full);
    us_queue_destroy(q);
    us_synth_destroy(s);
}
END_TEST

/* Sixty loud notes: the sum stays below full scale, and is not made quiet for it. */
START_TEST(never_clips)
{
    struct us_patch patch = plain_patch();
    for (int v = 0; v < US_VOICES; v++)
        patch.voice[v].level = 127;
    struct us_synth *s = start(&patch);
    struct us_queue *q = us_queue_create(0);
    for (int pitch = 36; pitch < 96; pitch++)
        push(q, US_ACTION_NOTE_ON, US_VOICE_MELODY, pitch, 0);
    us_synth_render(s, q, left, right, 1, SECOND);
    float peak = fmaxf(peak_of(left, 0, SECOND), peak_of(right, 0, SECOND));
    ck_assert_msg(peak < 1 && peak > 0.6f, "peak %f", peak);
    us_queue_destroy(q);
    us_synth_destroy(s);
}
END_TEST

START_TEST(limiter_is_gentle)
{
    struct us_limiter l;
    us_limiter_init(&l, RATE_HZ);
    double worst = 0;
    for (int i = 0; i < SECOND; i++) { /* below the knee: untouched */
        float x = 0.69f * sinf((float)i * 0.05f), a = x, b = -x;
        us_limiter_frame(&l, &a, &b);
        worst = fmax(worst, fabs((double)(a - x)) + fabs((double)(b + x)));
    }
    ck_assert(worst < 1e-9);
    float peak = 0, settled = 0;
    for (int i = 0; i < SECOND; i++) { /* ten times too loud */
        float a = 7 * sinf((float)i * 0.05f), b = a;
        us_limiter_frame(&l, &a, &b);
        peak = fmaxf(peak, fabsf(a));
        if (i > SECOND / 2) settled = fmaxf(settled, fabsf(a));
        ck_assert(a == b);
    }
    ck_assert(peak < 1);
    ck_assert_msg(settled < 0.8f && settled > 0.6f, "settled at %f", settled);
    for (int i = 0; i < 2 * SECOND; i++) {
        float a = 0, b = 0;
        us_limiter_frame(&l, &a, &b);
    }
    ck_assert(l.gain > 0.99f);
    float nan_free = 1e30f, other = 0;
    us_limiter_frame(&l, &nan_free, &other);
    ck_assert(nan_free < 1);
}
END_TEST

START_TEST(font_errors)
{
    struct us_patch patch = plain_patch();
    struct us_synth *s;
    struct us_error error;
    ck_assert_int_eq(us_synth_create(&s, "/nowhere/x.sf2", RATE_HZ, 1, &patch, &error), US_STATUS_NOT_FOUND);
    ck_assert(strstr(error.text, "/nowhere/x.sf2"));
    ck_assert_int_eq(us_synth_create(&s, "/etc/passwd", RATE_HZ, 1, &patch, &error), US_STATUS_BAD_INPUT);
    ck_assert(!s);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {notes_start_on_their_frame,
                                  a_late_note_sounds_at_once,
                                  nothing_stays,
                                  starts_quiet,
                                  never_clips,
                                  limiter_is_gentle,
                                  font_errors};
    return RUN_TESTS("synth", TESTS);
}
