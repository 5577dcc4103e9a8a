/* The sound engine: FluidSynth behind a frame-exact, allocation-free render call.  The same engine plays live
   (audio.h) and writes files.  Everything from us_synth_render() down runs on one thread at a time; create
   and destroy elsewhere, before and after. */
#ifndef UNDERSONG_SYNTH_H
#define UNDERSONG_SYNTH_H

#include "undersong/patch.h"
#include "undersong/queue.h"

struct us_synth;

/* Frames that are computed together; a buffer of any size can be rendered. */
enum { US_SYNTH_BLOCK_FRAMES = 64 };

/* Loads `sound_font` (NULL: the small General MIDI font of the system) at `rate_hz` (8,000 to 96,000); takes
   some 70 ms.  `level` scales all that sounds, 1.0 is normal.  Not real-time. */
enum us_status us_synth_create(struct us_synth **synth, const char *sound_font, double rate_hz, double level,
                               const struct us_patch *patch, struct us_error *error) US_WARN_UNUSED;
void us_synth_destroy(struct us_synth *synth); /* accepts NULL */

/* How a frame of the output belongs to a time: `frame` (counted since creation) sounds at `at_ns`, in the
   time of the actions that come; before each buffer.  Real-time. */
void us_synth_set_time(struct us_synth *synth, int64_t frame, int64_t at_ns, double frames_a_ns);
/* Renders `frames` of stereo.  Notes are taken from `queue` as their time comes and start within eight
   frames of it (a sixth of a millisecond at 48 kHz); one that is late starts at once, one that is half a
   second late not at all.  `left` and `right` advance by `stride` floats.  No lock, allocation, file or log.
 */
void us_synth_render(struct us_synth *synth, struct us_queue *queue, float *left, float *right, size_t stride,
                     uint32_t frames);
/* Frames rendered since creation. */
int64_t us_synth_frame(const struct us_synth *synth);
/* Frames that us_synth_render() may run ahead of what it has put out, when asked for `frames`. */
uint32_t us_synth_ahead(uint32_t frames);
/* Releases every note; they fade as they would.  With `at_once` they are cut.  Real-time. */
void us_synth_silence(struct us_synth *synth, bool at_once);
/* Fades in from silence over 50 ms, and rises from half to full level in the first two seconds. Real-time. */
void us_synth_quiet_start(struct us_synth *synth);

/* Writes `actions`, sorted by time, as a WAV file (16 bit, stereo, 48 kHz), faster than real time: from time
   0 until every note has faded, and half a second of silence. */
enum us_status us_synth_write_wav(const char *path, const char *sound_font, double level,
                                  const struct us_patch *patch, const struct us_action *actions, size_t count,
                                  struct us_error *error) US_WARN_UNUSED;

#endif
