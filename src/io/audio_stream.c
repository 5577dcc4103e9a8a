/* The audio callback: no lock, no allocation, no file, no log. */
#include "audio_parts.h"

#include "undersong/clock.h"

#include <limits.h>
#include <math.h>
#include <string.h>
#include <unistd.h>
#ifdef __SSE__
#include <immintrin.h>
#endif

/* A note waits this long beyond one buffer, so that a wake-up that comes early, or a note that is still on
   its way through the queue, changes nothing. */
#define MARGIN_S 0.0003
/* A change of volume takes about so long, so that it does not click. */
#define VOLUME_S 0.02

static void put_sample(enum SoundIoFormat format, char *at, float x)
{
    switch (format) {
    case SoundIoFormatFloat32NE: memcpy(at, &x, sizeof x); break;
    case SoundIoFormatS32NE: {
        int32_t v = (int32_t)((double)x * INT32_MAX);
        memcpy(at, &v, sizeof v);
        break;
    }
    default: {
        int16_t v = (int16_t)lrintf(x * INT16_MAX);
        memcpy(at, &v, sizeof v);
    }
    }
}

static void put_chunk(struct audio_stream *s, const struct SoundIoOutStream *out,
                      struct SoundIoChannelArea *areas, int first, int frames)
{
    int channels = out->layout.channel_count;
    float volume_to = atomic_load_explicit(&s->volume_to, memory_order_relaxed);
    float step = (float)(1 / (VOLUME_S * s->rate_hz));
    for (int i = 0; i < frames; i++) {
        if (s->fade < 1) s->fade = fmaxf(0, s->fade - s->fade_step);
        s->volume += (volume_to - s->volume) * step;
        float left = s->left[i] * s->fade * s->volume, right = s->right[i] * s->fade * s->volume;
        if (channels == 1) left = (left + right) / 2;
        for (int c = 0; c < channels; c++)
            put_sample(out->format, areas[c].ptr + (ptrdiff_t)areas[c].step * (first + i),
                       c == 0   ? left
                       : c == 1 ? right
                                : 0);
    }
}

/* Frame `end` of the engine is asked for now; a note of this moment is to sound a buffer and a margin later.
 */
static void keep_time(struct audio_stream *s, int64_t now_ns, int frames)
{
    int64_t end = us_synth_frame(s->synth) + frames;
    us_frame_clock_update(&s->clock, now_ns, end);
    int64_t margin = (int64_t)(MARGIN_S * s->rate_hz) + us_synth_ahead((uint32_t)frames);
    us_synth_set_time(s->synth, s->clock.frame + margin,
                      (int64_t)s->clock.at_ns - atomic_load_explicit(&s->origin_ns, memory_order_relaxed),
                      1 / s->clock.ns_a_frame);
}

static bool write_frames(struct audio_stream *s, struct SoundIoOutStream *out, int frames)
{
    while (frames > 0) {
        struct SoundIoChannelArea *areas;
        int room = frames;
        int error = soundio_outstream_begin_write(out, &areas, &room);
        if (error) return error == SoundIoErrorUnderflow;
        if (room <= 0) return true;
        for (int done = 0; done < room;) {
            int n = room - done < AUDIO_CHUNK_FRAMES ? room - done : AUDIO_CHUNK_FRAMES;
            us_synth_render(s->synth, s->queue, s->left, s->right, 1, (uint32_t)n);
            put_chunk(s, out, areas, done, n);
            done += n;
        }
        error = soundio_outstream_end_write(out);
        if (error && error != SoundIoErrorUnderflow) return false;
        frames -= room;
    }
    return true;
}

static void on_write(struct SoundIoOutStream *out, int frames_min, int frames_max)
{
    struct audio_stream *s = out->userdata;
    int64_t now_ns = us_clock_ns();
    if (!s->introduced) atomic_store(&s->thread_id, (int)gettid());
    s->introduced = true;
#ifdef __SSE__
    _MM_SET_FLUSH_ZERO_MODE(_MM_FLUSH_ZERO_ON); /* fading notes must not become slow ones */
#endif
    if (atomic_load_explicit(&s->ending, memory_order_relaxed) && s->fade == 1) {
        us_synth_silence(s->synth, false);
        s->fade -= s->fade_step;
    }
    keep_time(s, now_ns, frames_max);
    double latency_s;
    if (soundio_outstream_get_latency(out, &latency_s) == 0)
        atomic_store_explicit(&s->latency_s, latency_s, memory_order_relaxed);
    if (!write_frames(s, out, frames_max)) atomic_store(&s->lost, true);
    int64_t took_ns = us_clock_ns() - now_ns;
    if (took_ns > atomic_load_explicit(&s->render_ns_max, memory_order_relaxed))
        atomic_store_explicit(&s->render_ns_max, took_ns, memory_order_relaxed);
    atomic_store_explicit(&s->buffer_frames, (unsigned)frames_max, memory_order_relaxed);
    atomic_store_explicit(&s->last_callback_ns, now_ns, memory_order_relaxed);
    atomic_fetch_add_explicit(&s->callbacks, 1, memory_order_relaxed);
}

static void on_underflow(struct SoundIoOutStream *out)
{
    struct audio_stream *s = out->userdata;
    atomic_fetch_add_explicit(&s->underflows, 1, memory_order_relaxed);
}

static void on_error(struct SoundIoOutStream *out, int error)
{
    struct audio_stream *s = out->userdata;
    atomic_store(&s->lost, true);
}

void audio_stream_install(struct audio_stream *s, struct SoundIoOutStream *out)
{
    out->userdata = s;
    out->write_callback = on_write;
    out->underflow_callback = on_underflow;
    out->error_callback = on_error;
}

void audio_stream_reset(struct audio_stream *s, double rate_hz)
{
    us_frame_clock_init(&s->clock, rate_hz);
    s->rate_hz = rate_hz;
    s->introduced = false;
    s->fade = 1;
    s->fade_step = (float)(1 / (0.15 * rate_hz));
    atomic_store(&s->lost, false);
    atomic_store(&s->last_callback_ns, us_clock_ns());
    us_synth_silence(s->synth, true);
    us_synth_quiet_start(s->synth);
}
