#include "parts.h"

#include "commands.h"
#include "undersong/audio.h"
#include "undersong/synth.h"

static const char PART[] = "sound";

bool us_audio_backend_parse(const char *name, enum us_audio_backend *backend)
{
    __typeof__(&us_audio_backend_parse) parse = PART_FUNCTION(PART, us_audio_backend_parse, NULL);
    return parse && parse(name, backend); /* us_audio_start() says what is missing */
}

enum us_status us_audio_start(struct us_audio **audio, const struct us_audio_settings *settings,
                              struct us_error *error)
{
    struct us_error why;
    *audio = NULL;
    __typeof__(&us_audio_start) start = PART_FUNCTION(PART, us_audio_start, &why);
    return start ? start(audio, settings, error) : us_error_set(error, why.status, "%s", why.text);
}

/* The others get what us_audio_start() made, so the part is open. */
void us_audio_set_origin(struct us_audio *audio, int64_t origin_ns)
{
    PART_FUNCTION(PART, us_audio_set_origin, NULL)(audio, origin_ns);
}

void us_audio_set_volume(struct us_audio *audio, double volume)
{
    PART_FUNCTION(PART, us_audio_set_volume, NULL)(audio, volume);
}

bool us_audio_wait(struct us_audio *audio, int timeout_ms)
{
    return PART_FUNCTION(PART, us_audio_wait, NULL)(audio, timeout_ms);
}

void us_audio_stop(struct us_audio *audio)
{
    if (audio) PART_FUNCTION(PART, us_audio_stop, NULL)(audio);
}

bool us_audio_list(void (*found)(void *user, const char *backend, const char *name, const char *id,
                                 bool first),
                   void *user)
{
    struct us_error error;
    __typeof__(&us_audio_list) list = PART_FUNCTION(PART, us_audio_list, &error);
    if (!list) report_error(&error);
    return !list || list(found, user);
}

enum us_status us_synth_write_wav(const char *path, const char *sound_font, double level,
                                  const struct us_patch *patch, const struct us_action *actions, size_t count,
                                  struct us_error *error)
{
    __typeof__(&us_synth_write_wav) write = PART_FUNCTION(PART, us_synth_write_wav, error);
    return write ? write(path, sound_font, level, patch, actions, count, error) : US_STATUS_NO_DEVICE;
}
