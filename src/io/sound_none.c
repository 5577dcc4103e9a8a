/* A build without libsoundio, FluidSynth and libsndfile. */
#include "undersong/audio.h"
#include "undersong/synth.h"

#include <string.h>

static enum us_status missing(struct us_error *error)
{
    return us_error_set(
        error, US_STATUS_BAD_INPUT,
        "this build has no sound (made without libsoundio, FluidSynth or libsndfile); send the "
        "music to a MIDI output, to a FILE.mid or to - with --to");
}

bool us_audio_backend_parse(const char *name, enum us_audio_backend *backend)
{
    (void)name, (void)backend;
    return false;
}

enum us_status us_audio_start(struct us_audio **audio, const struct us_audio_settings *settings,
                              struct us_error *error)
{
    (void)settings;
    *audio = NULL;
    return missing(error);
}

void us_audio_set_origin(struct us_audio *audio, int64_t origin_ns)
{
    (void)audio, (void)origin_ns;
}

void us_audio_set_volume(struct us_audio *audio, double volume)
{
    (void)audio, (void)volume;
}

bool us_audio_wait(struct us_audio *audio, int timeout_ms)
{
    (void)audio, (void)timeout_ms;
    return false;
}

void us_audio_stop(struct us_audio *audio)
{
    (void)audio;
}

void us_audio_report(struct us_audio *audio, struct us_audio_report *out)
{
    (void)audio;
    memset(out, 0, sizeof *out);
}

bool us_audio_list(void (*found)(void *user, const char *backend, const char *name, const char *id,
                                 bool first),
                   void *user)
{
    (void)found, (void)user;
    return false;
}

enum us_status us_synth_write_wav(const char *path, const char *sound_font, double level,
                                  const struct us_patch *patch, const struct us_action *actions, size_t count,
                                  struct us_error *error)
{
    (void)path, (void)sound_font, (void)level, (void)patch, (void)actions, (void)count;
    return missing(error);
}
