/* Every patch that makes sound, through the file writer: length, pitch, balance, peaks, starts and ends. */
#include "support.h"

#include "undersong/synth.h"

#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

enum { RATE_HZ = 48000, NOTES = 4, FRAMES_MAX = 40 * RATE_HZ };
static float both[2 * FRAMES_MAX], mono[FRAMES_MAX];
static const int TUNE[NOTES] = {69, 72, 71, 69};
static char path[] = "/tmp/undersong-wav-XXXXXX";

/* Four notes of a second each with a triad under each; either voice may be left out. */
static size_t make_music(struct us_action *out, bool melody, bool left)
{
    size_t n = 0;
    for (int i = 0; i < NOTES; i++)
        for (int off = 0; off < 2; off++) {
            struct us_action a = {.at_ns = (i + off) * 1000000000ll - (off ? 100000000 : 0),
                                  .kind = off ? US_ACTION_NOTE_OFF : US_ACTION_NOTE_ON,
                                  .velocity = 90};
            a.voice = US_VOICE_MELODY;
            a.pitch = (uint8_t)TUNE[i];
            if (melody) out[n++] = a;
            for (int k = 0; left && k < 3; k++) {
                a.voice = US_VOICE_LEFT;
                a.pitch = (uint8_t)(45 + 4 * k - (k == 2)); /* A C# E below middle C */
                out[n++] = a;
            }
        }
    return n;
}

static long render(const struct us_patch *patch, bool melody, bool left)
{
    struct us_action music[NOTES * 8];
    struct us_error error;
    size_t count = make_music(music, melody, left);
    ck_assert_msg(us_synth_write_wav(path, NULL, 1, patch, music, count, &error) == US_STATUS_OK, "%s",
                  error.text);
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    ck_assert_ptr_nonnull(file);
    ck_assert_int_eq(info.samplerate, RATE_HZ);
    ck_assert_int_eq(info.channels, 2);
    ck_assert_int_lt(info.frames, FRAMES_MAX);
    ck_assert_int_eq(sf_readf_float(file, both, info.frames), info.frames);
    sf_close(file);
    for (sf_count_t i = 0; i < info.frames; i++)
        mono[i] = (both[2 * i] + both[2 * i + 1]) / 2;
    return (long)info.frames;
}

static double rms(long from, long until)
{
    double sum = 0;
    for (long i = from; i < until; i++)
        sum += (double)mono[i] * (double)mono[i];
    return sqrt(sum / (double)(until - from));
}

static double step(long from, long until)
{
    double most = 0;
    for (long i = from; i < until; i++)
        most = fmax(most, fabs((double)(mono[i] - mono[i - 1])));
    return most;
}

/* The frequency by autocorrelation, looked for within a semitone and a half of `near_hz`. */
static double frequency(long from, double near_hz)
{
    enum { WINDOW = 9600 };
    double best = -1, best_lag = 0;
    for (double lag = RATE_HZ / near_hz / 1.09; lag < RATE_HZ / near_hz * 1.09; lag += 0.1) {
        long whole = (long)lag;
        double part = lag - (double)whole, sum = 0;
        for (long i = from; i < from + WINDOW; i++)
            sum +=
                (double)mono[i] * ((1 - part) * (double)mono[i + whole] + part * (double)mono[i + whole + 1]);
        if (sum > best) best = sum, best_lag = lag;
    }
    return RATE_HZ / best_lag;
}

static void check_patch(const struct us_patch *p)
{
    long frames = render(p, true, false);
    double melody = rms(0, NOTES * RATE_HZ);
    /* Equal temperament, A4 = 440 Hz (ISO 16); an accordion's reeds are tuned apart, so not nearer than 40
     * cents. */
    for (int i = 0; i < NOTES; i++) {
        double wanted = 440 * pow(2, (TUNE[i] - 69) / 12.0 + p->voice[US_VOICE_MELODY].octave);
        double found = frequency(i * (long)RATE_HZ + 7200, wanted), cents = 1200 * log2(found / wanted);
        ck_assert_msg(fabs(cents) < 40, "%s: note %d is %.1f cents off", p->id, i, cents);
        long at = i * (long)RATE_HZ;
        ck_assert_msg(step(at + 1, at + 96) <= 1.2 * step(at + 96, at + 24000) + 0.001,
                      "%s: click at note %d: %f, %f", p->id, i, step(at + 1, at + 96),
                      step(at + 96, at + 24000));
    }
    ck_assert_msg(frames > NOTES * RATE_HZ + RATE_HZ / 4 && frames < (NOTES + 9) * RATE_HZ, "%s: %.2f s",
                  p->id, (double)frames / RATE_HZ);
    for (long i = 2 * (frames - RATE_HZ / 4); i < 2 * frames; i++)
        ck_assert(both[i] == 0);
    render(p, false, true);
    double left = rms(0, NOTES * RATE_HZ), below = 20 * log10(left / melody);
    ck_assert_msg(below < 1 && below > -14, "%s: the left hand is at %.1f dB of the melody", p->id, below);
    frames = render(p, true, true);
    double peak = 0;
    for (long i = 0; i < 2 * frames; i++)
        peak = fmax(peak, fabs((double)both[i]));
    if (getenv("SHOW_LEVELS"))
        printf("# %-20s melody %.1f dB, left %+.1f dB, peak %.2f, %.1f s\n", p->id, 20 * log10(melody), below,
               peak, (double)frames / RATE_HZ);
    ck_assert_msg(peak < 0.9 && peak > 0.08, "%s: peak %.3f", p->id, peak);
}

START_TEST(each_patch)
{
    struct us_patch *list;
    struct us_error error;
    size_t count, sounding = 0;
    ck_assert_int_eq(us_patch_list(&list, &count, &error), US_STATUS_OK);
    for (size_t i = 0; i < count; i++)
        if (!list[i].silent) {
            check_patch(&list[i]);
            sounding++;
        }
    ck_assert_uint_ge(sounding, 8);
    free(list);
}
END_TEST

START_TEST(where_it_cannot_write)
{
    struct us_patch patch;
    struct us_error error;
    us_patch_default(&patch);
    ck_assert_int_eq(us_synth_write_wav("/nowhere/x.wav", NULL, 1, &patch, NULL, 0, &error), US_STATUS_IO);
    ck_assert_int_eq(us_synth_write_wav("/dev/full", NULL, 1, &patch, NULL, 0, &error), US_STATUS_IO);
}
END_TEST

int main(void)
{
    int fd = mkstemp(path);
    if (fd < 0) return 1;
    close(fd);
    setenv("XDG_CONFIG_HOME", "/nowhere", 1);
    const TTest *const TESTS[] = {each_patch, where_it_cannot_write};
    int status = RUN_TESTS("patch_wav", TESTS);
    unlink(path);
    return status;
}
