#include "undersong/file_save.h"
#include "undersong/synth.h"

#include <math.h>
#include <sndfile.h>
#include <string.h>

enum { RATE_HZ = 48000, CHUNK = 1024, SILENCE_FRAMES = RATE_HZ / 2, TAIL_FRAMES_MAX = 20 * RATE_HZ };
#define SILENT 0.0002f

struct wav {
    SNDFILE *file;
    struct us_synth *synth;
    struct us_queue *queue;
    const struct us_action *actions;
    size_t count, next;
    int64_t quiet_frames, tail_frames;
};

/* Hands the engine what falls into the next chunk; the queue has room for far more than one step's worth, and
   what does not fit waits its turn. */
static void feed(struct wav *w)
{
    double until_ns = (double)(us_synth_frame(w->synth) + 2 * CHUNK) * (1e9 / RATE_HZ);
    while (w->next < w->count && (double)w->actions[w->next].at_ns <= until_ns)
        us_queue_push(w->queue, &w->actions[w->next++]);
}

static bool write_chunk(struct wav *w)
{
    float chunk[2 * CHUNK], peak = 0;
    us_synth_render(w->synth, w->queue, chunk, chunk + 1, 2, CHUNK);
    for (size_t i = 0; i < 2 * CHUNK; i++)
        peak = fmaxf(peak, fabsf(chunk[i]));
    w->quiet_frames = peak < SILENT ? w->quiet_frames + CHUNK : 0;
    /* What is below the threshold while all fades is silence: no file ends on a hiss. */
    if (w->tail_frames && w->quiet_frames) memset(chunk, 0, sizeof chunk);
    return sf_writef_float(w->file, chunk, CHUNK) == CHUNK;
}

static bool write_all(struct wav *w)
{
    bool ok = true;
    while (ok && (w->next < w->count || us_queue_peek(w->queue))) {
        feed(w);
        ok = write_chunk(w);
    }
    us_synth_silence(w->synth, false);
    w->quiet_frames = 0;
    while (ok && w->quiet_frames < SILENCE_FRAMES && w->tail_frames < TAIL_FRAMES_MAX) {
        w->tail_frames += CHUNK;
        ok = write_chunk(w);
    }
    return ok;
}

static enum us_status write_file(struct wav *w, const char *path, struct us_error *error)
{
    SF_INFO info = {.samplerate = RATE_HZ, .channels = 2, .format = SF_FORMAT_WAV | SF_FORMAT_PCM_16};
    struct us_file_part part;
    enum us_status status = us_file_part_begin(&part, path, 0666, error);
    if (status) return status;
    w->file = sf_open_fd(part.fd, SFM_WRITE, &info, SF_FALSE);
    bool done = w->file && write_all(w);
    if (w->file && sf_close(w->file)) done = false;
    if (done) return us_file_part_keep(&part, error);
    us_file_part_drop(&part);
    return us_error_set(error, US_STATUS_IO, "%.200s: cannot be written, is the disk full?", path);
}

enum us_status us_synth_write_wav(const char *path, const char *sound_font, double level,
                                  const struct us_patch *patch, const struct us_action *actions, size_t count,
                                  struct us_error *error)
{
    struct wav w = {.actions = actions, .count = count};
    enum us_status status = us_synth_create(&w.synth, sound_font, RATE_HZ, level, patch, error);
    if (status) return status;
    w.queue = us_queue_create(1 << 14);
    status = w.queue ? write_file(&w, path, error) : us_error_no_memory(error);
    us_queue_destroy(w.queue);
    us_synth_destroy(w.synth);
    return status;
}
