/* Shared by the two halves of the sound output: the thread that opens and keeps it, and the callback. */
#ifndef AUDIO_PARTS_H
#define AUDIO_PARTS_H

#include "undersong/audio.h"
#include "undersong/frame_clock.h"
#include "undersong/gaps.h"
#include "undersong/synth.h"

#include <pthread.h>
#include <soundio/soundio.h>
#include <stdatomic.h>

enum { AUDIO_CHUNK_FRAMES = 256, AUDIO_CHANNELS_MAX = SOUNDIO_MAX_CHANNELS };

/* All that the callback sees. */
struct audio_stream {
    struct us_synth *synth;
    struct us_queue *queue;
    struct us_frame_clock clock;
    double rate_hz;
    bool introduced;       /* thread_id is told */
    float fade, fade_step; /* the way out */
    float volume;          /* on its way to volume_to */
    _Atomic float volume_to;
    float left[AUDIO_CHUNK_FRAMES], right[AUDIO_CHUNK_FRAMES];
    atomic_bool ending, lost;
    atomic_uint underflows, callbacks, buffer_frames;
    atomic_int thread_id; /* who calls back; 0: nobody yet, or seen to */
    _Atomic int64_t origin_ns, last_callback_ns, render_ns_max;
    _Atomic double latency_s;
};

/* Installs every callback of the stream. */
void audio_stream_install(struct audio_stream *s, struct SoundIoOutStream *out);
/* Before each start of a stream. */
void audio_stream_reset(struct audio_stream *s, double rate_hz);

struct us_audio {
    struct us_audio_settings settings;
    struct audio_stream stream;
    struct us_synth *synth;
    atomic_int synth_rate_hz; /* also read for the report */
    struct SoundIo *soundio;
    struct SoundIoDevice *device;
    struct SoundIoOutStream *out;
    pthread_t thread;
    pthread_mutex_t mutex; /* for what the report shows; never taken by the callback */
    atomic_bool stopping, sounding;
    atomic_uint losses;
    bool told_missing, nobody_hears;
    struct us_gaps gaps;
    char output[120];
};

/* Connects, opens and starts the output that the settings ask for; false where there is none now. */
bool audio_open(struct us_audio *a);
/* Takes it down again, in whatever state it is. */
void audio_close(struct us_audio *a);
/* One line to the player. */
void audio_say(struct us_audio *a, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
