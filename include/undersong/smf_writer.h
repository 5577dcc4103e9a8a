/* Standard MIDI Files: a writer of format 1.  Not for the realtime thread. */
#ifndef UNDERSONG_SMF_WRITER_H
#define UNDERSONG_SMF_WRITER_H

#include <sys/types.h>

#include "undersong/event.h"
#include "undersong/smf.h"

/* Performed time: 960 ticks a quarter at 120 quarters a minute, so that a tick is 0.52 ms. */
enum { US_SMF_PERFORMED_DIVISION = 960, US_SMF_PERFORMED_TEMPO_US = 500000 };
enum { US_SMF_TRACKS_MAX = 16 };

struct us_smf_writer;

/* A file with a first track for tempo, signatures and markers (track 0); NULL without memory.  Divisions 1 to
   32,767.  From here on a lack of memory is remembered and reported when the file is saved. */
struct us_smf_writer *us_smf_writer_create(int ticks_per_quarter);
void us_smf_writer_destroy(struct us_smf_writer *writer); /* accepts NULL */

/* One more track, with its name (none where ""); returns its number.  At most US_SMF_TRACKS_MAX, beyond that
   the last one. */
int us_smf_writer_track(struct us_smf_writer *writer, const char *name);

/* Events may come in any order; at the same tick note-offs go first, then all but notes, then note-ons, each
   as they came; but the events of one key stay in their order, where an older note does not end there first.
   Ticks below 0 count as 0.  Messages must be channel messages, others are ignored. */
void us_smf_writer_message(struct us_smf_writer *writer, int track, int64_t tick,
                           struct us_midi_message message);
void us_smf_writer_meta(struct us_smf_writer *writer, int track, int64_t tick, uint8_t type, const void *data,
                        size_t length);
/* Text, markers and names: cut to 255 bytes. */
void us_smf_writer_text(struct us_smf_writer *writer, int track, int64_t tick, enum us_smf_meta type,
                        const char *text);
void us_smf_writer_tempo(struct us_smf_writer *writer, int64_t tick, uint32_t quarter_us);
void us_smf_writer_metre(struct us_smf_writer *writer, int64_t tick, struct us_metre metre);
/* A key signature; church modes also get a text, "key D dorian", as a signature cannot name them. */
void us_smf_writer_key(struct us_smf_writer *writer, int64_t tick, struct us_key key);

/* The ticks of performed time at which `at_ns` falls. */
int64_t us_smf_performed_tick(int64_t at_ns);

/* One action of the companion in performed time counted from `start_ns`: notes, pedal and CC 123 on the
   voice's channel (1, 2, 3) and `track[voice]`; in the first track the chord's numeral as a marker, key and
   time signature, and the texts "bar" and "beat". */
void us_smf_writer_action(struct us_smf_writer *writer, const int track[US_VOICES],
                          const struct us_action *action, int64_t start_ns);

/* For a piece that continues a track: first times count from this tick instead of 0, earlier events fall on
 * it. */
void us_smf_writer_continue(struct us_smf_writer *writer, int64_t tick);
/* The tick of the last event, or the one to continue from. */
int64_t us_smf_writer_end(const struct us_smf_writer *writer);

/* The file in memory; the caller frees it.  US_STATUS_NO_MEMORY on failure. */
enum us_status us_smf_writer_bytes(struct us_smf_writer *writer, uint8_t **bytes, size_t *size,
                                   struct us_error *error) US_WARN_UNUSED;
/* The file on disk, whole or not at all (us_file_save). */
enum us_status us_smf_writer_save(struct us_smf_writer *writer, const char *path, mode_t mode,
                                  struct us_error *error) US_WARN_UNUSED;

#endif
