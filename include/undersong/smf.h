/* Standard MIDI Files: a reader that takes any bytes without harm.  Not for the realtime thread.
   Source: Standard MIDI Files 1.0 (RP-001), MIDI Manufacturers Association. */
#ifndef UNDERSONG_SMF_H
#define UNDERSONG_SMF_H

#include "undersong/key.h"
#include "undersong/metre.h"
#include "undersong/midi_bytes.h"
#include "undersong/status.h"

/* Meta event types that the project uses. */
enum us_smf_meta {
    US_SMF_TEXT = 0x01,
    US_SMF_TRACK_NAME = 0x03,
    US_SMF_MARKER = 0x06,
    US_SMF_END_OF_TRACK = 0x2F,
    US_SMF_TEMPO = 0x51,
    US_SMF_METRE = 0x58,
    US_SMF_KEY = 0x59
};
enum { US_SMF_META_STATUS = 0xFF };

/* Bounds on what is read: a larger file is refused, it is no tune or session. */
enum { US_SMF_BYTES_MAX = 16 << 20, US_SMF_EVENTS_MAX = 2000000, US_SMF_HOURS_MAX = 1000 };

/* One event.  Channel messages: `status`, `data1`, `data2` (a note-on of velocity 0 is given as a note-off of
   velocity US_MIDI_RELEASE).  Meta events: `status` US_SMF_META_STATUS, `data1` the type.  SysEx: `status`
   0xF0 or 0xF7.  The last two have their bytes in `data`, `length` of them, not terminated. */
struct us_smf_event {
    int64_t tick;       /* from the start of the file */
    int64_t at_ns;      /* by the tempo map */
    double at_quarters; /* quarter notes from the start of the file */
    const uint8_t *data;
    uint32_t length;
    uint32_t offset; /* of the event's first byte in the file */
    uint16_t track;
    uint8_t status;
    uint8_t data1;
    uint8_t data2;
};

/* A file that was read: plain data, not to be changed.  The events of all tracks merged by time; at the same
   tick by track, and inside a track as they stand.  The patterns of a format 2 file follow one another. */
struct us_smf {
    int format;            /* 0, 1, 2 */
    int tracks;            /* as found */
    int ticks_per_quarter; /* 0 with a time-code division */
    struct us_smf_event *events;
    size_t count;
    int64_t end_ns; /* of the longest track */
    double end_quarters;
    uint8_t *bytes; /* the file; events point into it */
};

/* Reads `size` bytes (a copy is kept); `name` stands for the file in messages.  On failure
   US_STATUS_BAD_INPUT and one line with name and byte, or US_STATUS_NO_MEMORY; nothing to finish.  A missing
   end of track, more tracks than promised, unknown chunks and bytes after the last track are accepted; fewer
   tracks, a chunk longer than the file and half an event are not. */
enum us_status us_smf_read(struct us_smf *smf, const void *bytes, size_t size, const char *name,
                           struct us_error *error) US_WARN_UNUSED;
/* The same from a file.  Also US_STATUS_NOT_FOUND and US_STATUS_IO. */
enum us_status us_smf_load(struct us_smf *smf, const char *path, struct us_error *error) US_WARN_UNUSED;
/* Frees what a successful read holds; harmless on a zeroed struct. */
void us_smf_finish(struct us_smf *smf);

/* Whether the event is a meta event of this type. */
bool us_smf_is_meta(const struct us_smf_event *event, enum us_smf_meta type);
/* Microseconds a quarter; 500,000 where the event is no tempo. */
uint32_t us_smf_tempo_us(const struct us_smf_event *event);
/* Time signature; top 0 where the event is none, or one that struct us_metre cannot hold. */
struct us_metre us_smf_metre(const struct us_smf_event *event);
/* Key signature, major or minor; US_NO_KEY where the event is none. */
struct us_key us_smf_key(const struct us_smf_event *event);

#endif
