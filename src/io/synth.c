#include "undersong/synth.h"

#include "serial_openmp.h"
#include "undersong/limiter.h"

#include <fluidsynth.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* FluidSynth starts notes only at the borders of its 64-frame blocks, 1.3 ms apart.  So each voice has four
   channels, each with an output of its own that is delayed by another quarter of a block; a note goes to the
   channel whose delay brings it nearest to its frame. */
enum {
    BLOCK = US_SYNTH_BLOCK_FRAMES,
    PHASES = 4,
    PHASE_FRAMES = BLOCK / PHASES,
    CHANNELS = US_VOICES * PHASES,
    CARRY = BLOCK - PHASE_FRAMES,
    DRUMS = 9 /* General MIDI keeps its tenth channel for drums */
};
#define STALE_S 0.5 /* a note that comes so late, after an output stood still, is not begun any more */
#define GAIN 1.4    /* a piano note of velocity 100 then peaks near 0.2 */

struct us_synth {
    fluid_settings_t *settings;
    fluid_synth_t *fluid;
    struct us_patch patch;
    double rate_hz;
    struct us_limiter limiter;
    int64_t frame; /* rendered blocks, in frames */
    /* How times become frames. */
    int64_t time_frame, time_ns;
    double frames_a_ns;
    /* The last block, and how much of it has not been put out. */
    float mix[2][BLOCK];
    uint32_t left_over;
    float out[CHANNELS * 2][BLOCK], room[4][BLOCK];
    float carry[CHANNELS][2][CARRY];
    uint8_t held[US_VOICES][US_PITCHES]; /* channel + 1 of a sounding note, by the pitch asked for */
    float level, start_gain, start_step;
    int64_t fade_frames;
};

static const char *const FONTS[] = {
    "/usr/share/sounds/sf2/TimGM6mb.sf2",
    "/usr/share/sounds/sf2/default-GM.sf2",
    "/usr/share/sounds/sf3/default-GM.sf3",
    "/usr/share/soundfonts/default.sf2",
};

static const char *find_font(const char *wanted)
{
    if (wanted) return access(wanted, R_OK) == 0 ? wanted : NULL;
    for (size_t i = 0; i < sizeof FONTS / sizeof *FONTS; i++)
        if (access(FONTS[i], R_OK) == 0) return FONTS[i];
    return NULL;
}

/* "RIFF", a length, "sfbk" (SoundFont 2.04 technical specification, section 4): anything else would have the
   loaders complain on standard error. */
static bool looks_like_font(const char *path)
{
    char head[12] = "";
    FILE *f = fopen(path, "rb");
    bool read = f && fread(head, sizeof head, 1, f) == 1;
    if (f) fclose(f);
    return read && memcmp(head, "RIFF", 4) == 0 && memcmp(head + 8, "sfbk", 4) == 0;
}

static int channel_of(enum us_voice voice, int phase)
{
    return phase * US_VOICES + (int)voice;
}

static void set_up_channels(struct us_synth *s)
{
    fluid_synth_set_channel_type(s->fluid, DRUMS, CHANNEL_TYPE_MELODIC);
    for (int phase = 0; phase < PHASES; phase++)
        for (int v = 0; v < US_VOICES; v++) {
            const struct us_patch_voice *voice = &s->patch.voice[v];
            int channel = channel_of((enum us_voice)v, phase);
            fluid_synth_bank_select(s->fluid, channel, 0);
            fluid_synth_program_change(s->fluid, channel, voice->program);
            fluid_synth_cc(s->fluid, channel, 7, voice->level);
            fluid_synth_cc(s->fluid, channel, 10, 64 + voice->pan * 63 / 100);
            fluid_synth_cc(s->fluid, channel, 91, voice->reverb * 127 / 100);
            fluid_synth_cc(s->fluid, channel, 93, 0);
        }
}

static fluid_settings_t *make_settings(double rate_hz)
{
    static const struct {
        const char *name;
        int value;
    } ROWS[] = {
        {"synth.threadsafe-api", 0},      {"synth.dynamic-sample-loading", 0},
        {"synth.lock-memory", 1},         {"synth.cpu-cores", 1},
        {"synth.polyphony", 96},          {"synth.midi-channels", 16},
        {"synth.audio-groups", CHANNELS}, {"synth.audio-channels", CHANNELS},
        {"synth.reverb.active", 1},       {"synth.chorus.active", 0},
    };
    fluid_settings_t *settings = new_fluid_settings();
    if (!settings) return NULL;
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        fluid_settings_setint(settings, ROWS[i].name, ROWS[i].value);
    fluid_settings_setnum(settings, "synth.sample-rate", rate_hz);
    fluid_settings_setnum(settings, "synth.gain", GAIN);
    fluid_settings_setnum(settings, "synth.reverb.room-size", 0.4);
    fluid_settings_setnum(settings, "synth.reverb.level", 0.5);
    return settings;
}

enum us_status us_synth_create(struct us_synth **out, const char *sound_font, double rate_hz, double level,
                               const struct us_patch *patch, struct us_error *error)
{
    *out = NULL;
    const char *font = find_font(sound_font);
    if (!font && sound_font)
        return us_error_set(error, US_STATUS_NOT_FOUND, "%.200s: no such sound font; check the name",
                            sound_font);
    if (!font)
        return us_error_set(error, US_STATUS_NOT_FOUND,
                            "no sound font found; install timgm6mb-soundfont or give --sound-font FILE");
    for (int i = 0; i < LAST_LOG_LEVEL; i++)
        fluid_set_log_function(i, NULL, NULL);
    serial_openmp();
    struct us_synth *s = calloc(1, sizeof *s);
    if (!s) return us_error_no_memory(error);
    s->settings = make_settings(rate_hz);
    s->fluid = s->settings ? new_fluid_synth(s->settings) : NULL;
    if (!s->fluid) {
        us_synth_destroy(s);
        return us_error_set(error, US_STATUS_NO_MEMORY, "the sound engine cannot start; out of memory?");
    }
    if (!looks_like_font(font) || fluid_synth_sfload(s->fluid, font, 1) == FLUID_FAILED) {
        us_synth_destroy(s);
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "%.200s: not a sound font that can be read; give another", font);
    }
    s->patch = *patch;
    s->rate_hz = rate_hz;
    s->frames_a_ns = rate_hz / 1e9;
    s->level = (float)level;
    s->start_gain = 1;
    us_limiter_init(&s->limiter, rate_hz);
    set_up_channels(s);
    *out = s;
    return US_STATUS_OK;
}

void us_synth_destroy(struct us_synth *s)
{
    if (!s) return;
    if (s->fluid) delete_fluid_synth(s->fluid);
    if (s->settings) delete_fluid_settings(s->settings);
    free(s);
}

void us_synth_set_time(struct us_synth *s, int64_t frame, int64_t at_ns, double frames_a_ns)
{
    s->time_frame = frame;
    s->time_ns = at_ns;
    s->frames_a_ns = frames_a_ns;
}

int64_t us_synth_frame(const struct us_synth *s)
{
    return s->frame - s->left_over;
}

uint32_t us_synth_ahead(uint32_t frames)
{
    return frames % BLOCK ? BLOCK : 0;
}

/* The pitch that sounds: moved by the patch's octaves, brought back where that leaves the keyboard. */
static int sounding_pitch(const struct us_synth *s, const struct us_action *a)
{
    int pitch = a->pitch + 12 * s->patch.voice[a->voice].octave;
    while (pitch >= US_PITCHES)
        pitch -= 12;
    while (pitch < 0)
        pitch += 12;
    return pitch;
}

static void note_off(struct us_synth *s, const struct us_action *a)
{
    uint8_t *held = &s->held[a->voice][a->pitch];
    if (*held) fluid_synth_noteoff(s->fluid, *held - 1, sounding_pitch(s, a));
    *held = 0;
}

static void voice_off(struct us_synth *s, int voice, bool at_once)
{
    for (int phase = 0; phase < PHASES; phase++) {
        int channel = channel_of((enum us_voice)voice, phase);
        fluid_synth_cc(s->fluid, channel, 64, 0);
        if (at_once)
            fluid_synth_all_sounds_off(s->fluid, channel);
        else
            fluid_synth_all_notes_off(s->fluid, channel);
    }
    memset(s->held[voice], 0, sizeof s->held[voice]);
}

static void apply(struct us_synth *s, const struct us_action *a, int phase)
{
    switch (a->kind) {
    case US_ACTION_NOTE_ON:
        note_off(s, a);
        fluid_synth_noteon(s->fluid, channel_of((enum us_voice)a->voice, phase), sounding_pitch(s, a),
                           us_patch_velocity(&s->patch, (enum us_voice)a->voice, a->velocity));
        s->held[a->voice][a->pitch] = (uint8_t)(channel_of((enum us_voice)a->voice, phase) + 1);
        break;
    case US_ACTION_NOTE_OFF: note_off(s, a); break;
    case US_ACTION_PEDAL:
        for (int p = 0; p < PHASES; p++)
            fluid_synth_cc(s->fluid, channel_of((enum us_voice)a->voice, p), 64, a->velocity & 127);
        break;
    case US_ACTION_ALL_OFF: voice_off(s, a->voice, false); break;
    default: break;
    }
}

/* The frame, in whole phases, at which the action is to sound. */
static int64_t frame_of(const struct us_synth *s, const struct us_action *a)
{
    int64_t frame = s->time_frame + (int64_t)floor((double)(a->at_ns - s->time_ns) * s->frames_a_ns + 0.5);
    frame += PHASE_FRAMES / 2;
    return frame < 0 ? 0 : frame - frame % PHASE_FRAMES;
}

static void apply_due(struct us_synth *s, struct us_queue *queue)
{
    const struct us_action *next;
    while (queue && (next = us_queue_peek(queue))) {
        int64_t frame = frame_of(s, next) - s->frame;
        if (frame >= BLOCK) return;
        struct us_action action;
        us_queue_pop(queue, &action);
        if (frame < -(int64_t)(STALE_S * s->rate_hz) && action.kind == US_ACTION_NOTE_ON) continue;
        apply(s, &action, frame < 0 ? 0 : (int)frame / PHASE_FRAMES);
    }
}

/* Adds one output to the mix, `delay` frames late. */
static void add_delayed(float *mix, const float *now, float *carry, int delay)
{
    for (int i = 0; i < delay; i++)
        mix[i] += carry[i];
    for (int i = delay; i < BLOCK; i++)
        mix[i] += now[i - delay];
    memcpy(carry, now + BLOCK - delay, (size_t)delay * sizeof *carry);
}

static void master(struct us_synth *s)
{
    for (int i = 0; i < BLOCK; i++) {
        float gain = s->level * s->start_gain;
        if (s->fade_frames > 0) gain *= 1 - (float)s->fade_frames-- / (float)(s->rate_hz * 0.05);
        if (s->start_gain < 1) s->start_gain += s->start_step;
        s->mix[0][i] *= gain;
        s->mix[1][i] *= gain;
        us_limiter_frame(&s->limiter, &s->mix[0][i], &s->mix[1][i]);
    }
}

static void render_block(struct us_synth *s, struct us_queue *queue)
{
    float *out[CHANNELS * 2], *room[4];
    for (int i = 0; i < CHANNELS * 2; i++)
        out[i] = s->out[i];
    for (int i = 0; i < 4; i++)
        room[i] = s->room[i];
    apply_due(s, queue);
    memset(s->out, 0, sizeof s->out);
    memset(s->room, 0, sizeof s->room);
    memset(s->mix, 0, sizeof s->mix);
    fluid_synth_process(s->fluid, BLOCK, 4, room, CHANNELS * 2, out);
    for (int side = 0; side < 2; side++) {
        for (int channel = 0; channel < CHANNELS; channel++)
            add_delayed(s->mix[side], s->out[2 * channel + side], s->carry[channel][side],
                        channel / US_VOICES * PHASE_FRAMES);
        for (int i = 0; i < BLOCK; i++)
            s->mix[side][i] += s->room[side][i];
    }
    master(s);
    s->frame += BLOCK;
    s->left_over = BLOCK;
}

void us_synth_render(struct us_synth *s, struct us_queue *queue, float *left, float *right, size_t stride,
                     uint32_t frames)
{
    for (uint32_t i = 0; i < frames; i++) {
        if (!s->left_over) render_block(s, queue);
        uint32_t at = BLOCK - s->left_over--;
        left[i * stride] = s->mix[0][at];
        right[i * stride] = s->mix[1][at];
    }
}

void us_synth_silence(struct us_synth *s, bool at_once)
{
    for (int v = 0; v < US_VOICES; v++)
        voice_off(s, v, at_once);
}

void us_synth_quiet_start(struct us_synth *s)
{
    s->start_gain = 0.5f;
    s->start_step = (float)(0.5 / (2 * s->rate_hz));
    s->fade_frames = (int64_t)(s->rate_hz * 0.05);
}
