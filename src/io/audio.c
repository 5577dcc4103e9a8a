#include "undersong/audio.h"

#include "audio_parts.h"
#include "undersong/clock.h"
#include "undersong/realtime.h"

#include <math.h>
#include <sched.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

/* A server may take a first buffer and then pause: PulseAudio's null sink does for two seconds. */
enum { FLOWING = 3 };
enum { LOOK_MS = 20, RETRY_MS = 500, FIRST_RATE_HZ = 48000 };
#define DEAD_NS INT64_C(4000000000) /* a server that asks for nothing for so long is gone */

static void sleep_ms(int ms)
{
    nanosleep(&(struct timespec){.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000L}, NULL);
}

void audio_say(struct us_audio *a, const char *format, ...)
{
    if (!a->settings.say) return;
    char line[300];
    va_list args;
    va_start(args, format);
    vsnprintf(line, sizeof line, format, args);
    va_end(args);
    a->settings.say(a->settings.user, line);
}

/* While nobody listens, what is played is let go, so that the queue does not fill and nothing old sounds
 * later. */
static void let_go(struct us_audio *a)
{
    struct us_action action;
    while (us_queue_pop(a->settings.queue, &action))
        ;
}

static void wait_for_output(struct us_audio *a)
{
    if (!a->told_missing) {
        if (atomic_load(&a->losses))
            audio_say(a, "the sound output is lost (%s); playing goes on, and it is tried again", a->output);
        else if (a->settings.device)
            audio_say(
                a,
                "no sound output is called %.100s (`undersong ports` lists them); playing goes on without "
                "sound, and it is tried again",
                a->settings.device);
        else
            audio_say(a, "no sound output answers; playing goes on without sound, and it is tried again");
    }
    a->told_missing = true;
    for (int ms = 0; ms < RETRY_MS && !atomic_load(&a->stopping); ms += LOOK_MS) {
        let_go(a);
        sleep_ms(LOOK_MS);
    }
}

/* JACK calls back with a priority of its own; elsewhere it is asked for.  Where it is refused the live thread
   has told. */
static void raise_callback(struct us_audio *a)
{
    char why[100];
    int thread = atomic_exchange(&a->stream.thread_id, 0);
    if (thread && (sched_getscheduler(thread) & ~SCHED_RESET_ON_FORK) == SCHED_OTHER)
        us_realtime_raise(thread, why, sizeof why);
}

static void watch_gaps(struct us_audio *a)
{
    if (a->nobody_hears) return;
    if (!us_gaps_tell(&a->gaps, atomic_load(&a->stream.underflows), us_clock_ns())) return;
    audio_say(
        a,
        "the sound has gaps: this computer is busy, or buffers of %u frames are too small for it; close "
        "other programs, or give the sound server larger buffers",
        atomic_load(&a->stream.buffer_frames));
}

static void watch_output(struct us_audio *a)
{
    us_gaps_begin(&a->gaps, atomic_load(&a->stream.underflows), us_clock_ns());
    while (!atomic_load(&a->stopping) && !atomic_load(&a->stream.lost)) {
        sleep_ms(LOOK_MS);
        soundio_flush_events(a->soundio);
        raise_callback(a);
        watch_gaps(a);
        if (us_clock_ns() - atomic_load(&a->stream.last_callback_ns) > DEAD_NS)
            atomic_store(&a->stream.lost, true);
    }
}

static void fade_out(struct us_audio *a)
{
    atomic_store(&a->stream.ending, true);
    double latency_s = atomic_load(&a->stream.latency_s);
    sleep_ms(180 + (int)(1000 * (latency_s < 0.3 ? latency_s : 0.3)));
}

static void *keep(void *arg)
{
    struct us_audio *a = arg;
    while (!atomic_load(&a->stopping)) {
        if (!audio_open(a)) {
            wait_for_output(a);
            continue;
        }
        if (a->told_missing) audio_say(a, "sound again (%s)", a->output);
        a->told_missing = false;
        atomic_store(&a->sounding, true);
        watch_output(a);
        atomic_store(&a->sounding, false);
        if (atomic_load(&a->stream.lost))
            atomic_fetch_add(&a->losses, 1);
        else
            fade_out(a);
        audio_close(a);
    }
    return NULL;
}

enum us_status us_audio_start(struct us_audio **out, const struct us_audio_settings *settings,
                              struct us_error *error)
{
    *out = NULL;
    struct us_audio *a = calloc(1, sizeof *a);
    if (!a) return us_error_no_memory(error);
    a->settings = *settings;
    a->stream.queue = settings->queue;
    a->stream.volume = 1;
    atomic_store(&a->stream.volume_to, 1);
    atomic_store(&a->stream.origin_ns, settings->origin_ns);
    enum us_status status = us_synth_create(&a->synth, settings->sound_font, FIRST_RATE_HZ, settings->level,
                                            &settings->patch, error);
    if (status) {
        free(a);
        return status;
    }
    a->synth_rate_hz = FIRST_RATE_HZ;
    a->stream.synth = a->synth;
    pthread_mutex_init(&a->mutex, NULL);
    if (pthread_create(&a->thread, NULL, keep, a)) {
        us_synth_destroy(a->synth);
        pthread_mutex_destroy(&a->mutex);
        free(a);
        return us_error_set(error, US_STATUS_NO_MEMORY,
                            "no thread for the sound; too many programs running?");
    }
    *out = a;
    return US_STATUS_OK;
}

void us_audio_set_origin(struct us_audio *a, int64_t origin_ns)
{
    atomic_store(&a->stream.origin_ns, origin_ns);
}

void us_audio_set_volume(struct us_audio *a, double volume)
{
    atomic_store(&a->stream.volume_to, (float)fmin(fmax(volume, 0), 1));
}

bool us_audio_wait(struct us_audio *a, int timeout_ms)
{
    for (int ms = 0; ms < timeout_ms; ms += 2) {
        if (atomic_load(&a->sounding) && atomic_load(&a->stream.callbacks) >= FLOWING) return true;
        sleep_ms(2);
    }
    return false;
}

void us_audio_stop(struct us_audio *a)
{
    if (!a) return;
    atomic_store(&a->stopping, true);
    pthread_join(a->thread, NULL);
    us_synth_destroy(a->synth);
    pthread_mutex_destroy(&a->mutex);
    free(a);
}

void us_audio_report(struct us_audio *a, struct us_audio_report *out)
{
    *out = (struct us_audio_report){
        .sounding = atomic_load(&a->sounding),
        .rate_hz = a->synth_rate_hz,
        .latency_s = atomic_load(&a->stream.latency_s),
        .buffer_frames = atomic_load(&a->stream.buffer_frames),
        .underflows = atomic_load(&a->stream.underflows),
        .callbacks = atomic_load(&a->stream.callbacks),
        .losses = atomic_load(&a->losses),
        .render_ns_max = atomic_load(&a->stream.render_ns_max),
    };
    pthread_mutex_lock(&a->mutex);
    memcpy(out->output, a->output, sizeof out->output);
    pthread_mutex_unlock(&a->mutex);
}
