/* Sound out: libsoundio with the sound engine inside its callback.  A thread of its own finds the server or
   device, loads the sound font, and finds it again when it is lost; playing goes on meanwhile. */
#ifndef UNDERSONG_AUDIO_H
#define UNDERSONG_AUDIO_H

#include "undersong/patch.h"
#include "undersong/queue.h"

enum us_audio_backend {
    US_AUDIO_AUTO, /* the first of JACK, PulseAudio (also PipeWire's) and ALSA that answers */
    US_AUDIO_JACK,
    US_AUDIO_PULSE,
    US_AUDIO_ALSA,
    US_AUDIO_DUMMY /* nobody hears it */
};

/* "auto", "jack", "pulse", "alsa", "dummy". */
bool us_audio_backend_parse(const char *name, enum us_audio_backend *backend);

struct us_audio_settings {
    enum us_audio_backend backend;
    const char *device;     /* a part of the device's name or id; NULL: the server's default */
    const char *sound_font; /* NULL: the system's */
    double level;           /* 1.0 is normal */
    double latency_s;       /* asked for where the server lets one ask; 0: 0.02 */
    struct us_patch patch;
    struct us_queue *queue; /* what to play; this end reads */
    int64_t origin_ns;      /* us_clock_ns() at time 0 of the actions; us_audio_set_origin() may move it */
    /* Gets one line of text, without its end, for the player: found, lost, found again. From the audio
       thread.  May be NULL. */
    void (*say)(void *user, const char *line);
    void *user;
};

struct us_audio;
/* Starts the thread and returns at once; only a sound font that cannot be used fails here.  `settings` is
   copied, its strings must live on. */
enum us_status us_audio_start(struct us_audio **audio, const struct us_audio_settings *settings,
                              struct us_error *error) US_WARN_UNUSED;
/* Before the first action. Any thread. */
void us_audio_set_origin(struct us_audio *audio, int64_t origin_ns);
/* While playing: 0 is silence, 1 the level of the settings.  Any thread. */
void us_audio_set_volume(struct us_audio *audio, double volume);
/* Waits until sound comes out, at most `timeout_ms`; false where it does not yet. */
bool us_audio_wait(struct us_audio *audio, int timeout_ms);
/* Fades out what sounds, within a fifth of a second, and closes.  Accepts NULL. */
void us_audio_stop(struct us_audio *audio);

/* Figures for a report and for benchmarks.  Any thread. */
struct us_audio_report {
    bool sounding;
    int rate_hz;
    double latency_s; /* the server's own, as read back */
    uint32_t buffer_frames, underflows, callbacks;
    uint32_t losses; /* how often server or device was lost */
    int64_t render_ns_max;
    char output[120]; /* backend and device */
};
void us_audio_report(struct us_audio *audio, struct us_audio_report *out);

/* Calls `found` for each output device of each backend that answers.  Any one thread, not beside a running
   us_audio.  False in a build without sound. */
bool us_audio_list(void (*found)(void *user, const char *backend, const char *name, const char *id,
                                 bool first),
                   void *user);

#endif
