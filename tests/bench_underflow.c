/* bench_underflow ours|sine SECONDS: plays to the JACK server that JACK_DEFAULT_SERVER names for so long,
   through the program's own sound (a melody and chords of three notes), or a bare sine through libsoundio,
   and prints how often the server was not served in time, once all that begins beside it has begun.  Run side
   by side by rig/bench_underflow.sh. Figures, not checks. */
#include "bench_time.h"
#include "undersong/audio.h"
#include "undersong/clock.h"

#include <math.h>
#include <soundio/soundio.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SETTLE_S = 5 }; /* not counted: the others' servers and sound fonts are loaded */

static void strike(struct us_queue *queue, enum us_action_kind kind, int64_t at_ns, int bar)
{
    static const uint8_t CHORD[2][4] = {{48, 52, 55, 72}, {47, 53, 55, 74}};
    for (int i = 0; i < 4; i++) {
        struct us_action a = {.at_ns = at_ns,
                              .kind = (uint8_t)kind,
                              .voice = i == 3 ? US_VOICE_MELODY : US_VOICE_LEFT,
                              .pitch = CHORD[bar % 2][i],
                              .velocity = 80};
        us_queue_push(queue, &a);
    }
}

static int play_ours(int seconds)
{
    struct us_audio *audio;
    struct us_error error;
    struct us_audio_settings settings = {
        .backend = US_AUDIO_JACK, .level = 1, .queue = us_queue_create(0), .origin_ns = us_clock_ns()};
    us_patch_default(&settings.patch);
    if (us_audio_start(&audio, &settings, &error) || !us_audio_wait(audio, 5000)) return 1;
    struct us_audio_report before, r;
    for (int half = 0; half < 2 * (SETTLE_S + seconds); half++) {
        if (half == 2 * SETTLE_S) us_audio_report(audio, &before);
        strike(settings.queue, US_ACTION_NOTE_ON, us_clock_ns() - settings.origin_ns, half);
        bench_sleep_ms(500);
        strike(settings.queue, US_ACTION_NOTE_OFF, us_clock_ns() - settings.origin_ns, half);
    }
    us_audio_report(audio, &r);
    printf("%u frames, ours: %u underflows in %u buffers, the slowest took %.2f ms\n", r.buffer_frames,
           r.underflows - before.underflows, r.callbacks - before.callbacks, (double)r.render_ns_max * 1e-6);
    us_audio_stop(audio);
    us_queue_destroy(settings.queue);
    return 0;
}

static atomic_uint underflows, buffers, frames_asked;

static void put_sine(struct SoundIoOutStream *out, int least, int most)
{
    static double phase;
    (void)least;
    atomic_fetch_add(&buffers, 1);
    atomic_store(&frames_asked, (unsigned)most);
    for (int room; most > 0; most -= room) {
        struct SoundIoChannelArea *areas;
        room = most;
        if (soundio_outstream_begin_write(out, &areas, &room) || room <= 0) return;
        for (int i = 0; i < room; i++, phase += 440 * 6.283185307179586 / out->sample_rate)
            for (int c = 0; c < out->layout.channel_count; c++) {
                float x = 0.1f * (float)sin(phase);
                memcpy(areas[c].ptr + (ptrdiff_t)areas[c].step * i, &x, sizeof x);
            }
        if (soundio_outstream_end_write(out)) return;
    }
}

static void on_underflow(struct SoundIoOutStream *out)
{
    (void)out;
    atomic_fetch_add(&underflows, 1);
}

static int play_sine(int seconds)
{
    struct SoundIo *soundio = soundio_create();
    if (!soundio || soundio_connect_backend(soundio, SoundIoBackendJack)) return 1;
    soundio_flush_events(soundio);
    int first = soundio_default_output_device_index(soundio);
    struct SoundIoDevice *device = first < 0 ? NULL : soundio_get_output_device(soundio, first);
    struct SoundIoOutStream *out = device ? soundio_outstream_create(device) : NULL;
    if (!out) return 1;
    out->format = SoundIoFormatFloat32NE;
    out->write_callback = put_sine;
    out->underflow_callback = on_underflow;
    if (soundio_outstream_open(out) || soundio_outstream_start(out)) return 1;
    bench_sleep_ms(SETTLE_S * 1000);
    atomic_store(&underflows, 0);
    atomic_store(&buffers, 0);
    bench_sleep_ms(seconds * 1000);
    printf("%u frames, a bare sine: %u underflows in %u buffers\n", atomic_load(&frames_asked),
           atomic_load(&underflows), atomic_load(&buffers));
    soundio_outstream_destroy(out);
    soundio_device_unref(device);
    soundio_destroy(soundio);
    return 0;
}

int main(int argc, char **argv)
{
    int seconds = argc == 3 ? atoi(argv[2]) : 0;
    if (seconds <= 0) return 2;
    return strcmp(argv[1], "ours") == 0 ? play_ours(seconds) : play_sine(seconds);
}
