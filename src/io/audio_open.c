/* Finding an output and opening it.  Only the audio thread comes here. */
#include "audio_parts.h"
#include "pulse_no_sink.h"

#include <alsa/asoundlib.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const struct {
    const char *name;
    enum us_audio_backend id;
    enum SoundIoBackend backend;
} BACKENDS[] = {
    {"jack", US_AUDIO_JACK, SoundIoBackendJack},
    {"pulse", US_AUDIO_PULSE, SoundIoBackendPulseAudio},
    {"alsa", US_AUDIO_ALSA, SoundIoBackendAlsa},
    {"dummy", US_AUDIO_DUMMY, SoundIoBackendDummy},
};
enum { BACKEND_COUNT = sizeof BACKENDS / sizeof *BACKENDS };

bool us_audio_backend_parse(const char *name, enum us_audio_backend *backend)
{
    *backend = US_AUDIO_AUTO;
    for (int i = 0; i < BACKEND_COUNT; i++)
        if (strcmp(BACKENDS[i].name, name) == 0) {
            *backend = BACKENDS[i].id;
            return true;
        }
    return strcmp(name, "auto") == 0;
}

/* `userdata` is the flag that tells that the server has gone. */
static void on_disconnect(struct SoundIo *soundio, int error)
{
    atomic_bool *gone = soundio->userdata;
    atomic_store(gone, true);
}

static void on_devices_change(struct SoundIo *soundio) {}

static void on_events_signal(struct SoundIo *soundio) {}

static void on_rtprio_warning(void) {}

static void on_jack_message(const char *message) {}

static void on_alsa_message(const char *file, int line, const char *function, int error, const char *format,
                            ...)
{
}

/* libsoundio 2.0.0 closes descriptor 0 when its ALSA backend finds no device: not tried where there is none,
   and standard input is put back where it was lost all the same. */
static int connect_guarded(struct SoundIo *soundio, enum SoundIoBackend backend)
{
    if (backend == SoundIoBackendAlsa && access("/dev/snd", F_OK) != 0) return SoundIoErrorInitAudioBackend;
    int input = fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 3), error = soundio_connect_backend(soundio, backend);
    if (error && input >= 0 && fcntl(STDIN_FILENO, F_GETFD) < 0) dup2(input, STDIN_FILENO);
    if (input >= 0) close(input);
    return error;
}

/* libsoundio's own defaults end the process or print: every one of them is replaced. */
static struct SoundIo *connect_to(enum SoundIoBackend backend, atomic_bool *gone)
{
    pulse_no_sink();
    if (!soundio_have_backend(backend)) return NULL;
    struct SoundIo *soundio = soundio_create();
    if (!soundio) return NULL;
    snd_lib_error_set_handler(on_alsa_message);
    soundio->userdata = gone;
    atomic_store(gone, false);
    soundio->app_name = "undersong";
    soundio->on_backend_disconnect = on_disconnect;
    soundio->on_devices_change = on_devices_change;
    soundio->on_events_signal = on_events_signal;
    soundio->emit_rtprio_warning = on_rtprio_warning;
    soundio->jack_info_callback = on_jack_message;
    soundio->jack_error_callback = on_jack_message;
    if (connect_guarded(soundio, backend) == SoundIoErrorNone) {
        soundio_flush_events(soundio);
        /* Where it has gone already there is no list of devices, and to ask for it ends the process. */
        if (soundio->current_backend == backend && !atomic_load(gone)) return soundio;
    }
    soundio_destroy(soundio);
    return NULL;
}

static struct SoundIoDevice *find_device(struct SoundIo *soundio, const char *wanted)
{
    int count = soundio_output_device_count(soundio);
    for (int i = 0; wanted && i < count; i++) {
        struct SoundIoDevice *d = soundio_get_output_device(soundio, i);
        if (!d->probe_error && (strstr(d->name, wanted) || strstr(d->id, wanted))) return d;
        soundio_device_unref(d);
    }
    int first = soundio_default_output_device_index(soundio);
    return !wanted && first >= 0 ? soundio_get_output_device(soundio, first) : NULL;
}

static int choose_rate(struct SoundIoDevice *device)
{
    static const int WANTED[] = {48000, 44100, 96000, 32000};
    for (int i = 0; i < 4; i++)
        if (soundio_device_supports_sample_rate(device, WANTED[i])) return WANTED[i];
    return soundio_device_nearest_sample_rate(device, 48000);
}

static bool choose_format(struct SoundIoDevice *device, enum SoundIoFormat *format)
{
    static const enum SoundIoFormat WANTED[] = {SoundIoFormatFloat32NE, SoundIoFormatS32NE,
                                                SoundIoFormatS16NE};
    for (int i = 0; i < 3; i++)
        if (soundio_device_supports_format(device, WANTED[i])) {
            *format = WANTED[i];
            return true;
        }
    return false;
}

/* The engine for this rate: the one there is, or a new one. */
static bool have_synth(struct us_audio *a, int rate_hz)
{
    if (a->synth && a->synth_rate_hz == rate_hz) return true;
    struct us_error error;
    us_synth_destroy(a->synth);
    a->synth = NULL;
    if (us_synth_create(&a->synth, a->settings.sound_font, rate_hz, a->settings.level, &a->settings.patch,
                        &error)) {
        audio_say(a, "%s", error.text);
        return false;
    }
    a->synth_rate_hz = rate_hz;
    a->stream.synth = a->synth;
    return true;
}

static bool open_stream(struct us_audio *a)
{
    int rate_hz = choose_rate(a->device);
    a->out = soundio_outstream_create(a->device);
    if (!a->out || !choose_format(a->device, &a->out->format)) return false;
    audio_stream_install(&a->stream, a->out);
    a->out->name = "undersong-sound"; /* JACK: a client beside the first */
    a->out->sample_rate = rate_hz;
    a->out->software_latency = a->settings.latency_s > 0 ? a->settings.latency_s : 0.02;
    /* A layout_error only says that the order of the channels could not be told, as with many ALSA cards. */
    if (soundio_outstream_open(a->out)) return false;
    if (!have_synth(a, a->out->sample_rate)) return false;
    audio_stream_reset(&a->stream, a->out->sample_rate);
    return soundio_outstream_start(a->out) == SoundIoErrorNone;
}

static bool open_backend(struct us_audio *a, int i)
{
    a->soundio = connect_to(BACKENDS[i].backend, &a->stream.lost);
    a->device = a->soundio ? find_device(a->soundio, a->settings.device) : NULL;
    if (a->device && !a->device->probe_error && open_stream(a)) {
        pthread_mutex_lock(&a->mutex);
        snprintf(a->output, sizeof a->output, "%s: %.100s", BACKENDS[i].name, a->device->name);
        pthread_mutex_unlock(&a->mutex);
        a->nobody_hears = BACKENDS[i].id == US_AUDIO_DUMMY;
        return true;
    }
    audio_close(a);
    return false;
}

bool audio_open(struct us_audio *a)
{
    for (int i = 0; i < BACKEND_COUNT; i++) {
        bool wanted = a->settings.backend == US_AUDIO_AUTO ? BACKENDS[i].id != US_AUDIO_DUMMY
                                                           : BACKENDS[i].id == a->settings.backend;
        if (wanted && open_backend(a, i)) return true;
    }
    return false;
}

void audio_close(struct us_audio *a)
{
    if (a->out) soundio_outstream_destroy(a->out);
    if (a->device) soundio_device_unref(a->device);
    if (a->soundio) soundio_destroy(a->soundio);
    a->out = NULL;
    a->device = NULL;
    a->soundio = NULL;
}

bool us_audio_list(void (*found)(void *user, const char *backend, const char *name, const char *id,
                                 bool first),
                   void *user)
{
    static atomic_bool gone;
    for (int i = 0; i < BACKEND_COUNT; i++) {
        struct SoundIo *soundio =
            BACKENDS[i].id == US_AUDIO_DUMMY ? NULL : connect_to(BACKENDS[i].backend, &gone);
        if (!soundio) continue;
        int count = soundio_output_device_count(soundio),
            first = soundio_default_output_device_index(soundio);
        for (int k = 0; k < count; k++) {
            struct SoundIoDevice *d = soundio_get_output_device(soundio, k);
            if (!d->is_raw) found(user, BACKENDS[i].name, d->name, d->id, k == first);
            soundio_device_unref(d);
        }
        soundio_destroy(soundio);
    }
    return true;
}
