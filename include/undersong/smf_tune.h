/* The melody of a Standard MIDI File as a tune.  Not for the realtime thread. */
#ifndef UNDERSONG_SMF_TUNE_H
#define UNDERSONG_SMF_TUNE_H

#include "undersong/smf.h"
#include "undersong/tune_file.h"

/* The MIDI channel, 0 to 15, and the track that hold the melody: a track or channel named for it, else the
   highest of those with enough notes; never the percussion on channel 10 (General MIDI).  False where the
   file has no notes. */
struct us_smf_melody {
    uint16_t track;
    uint8_t channel;
};
bool us_smf_find_melody(const struct us_smf *smf, struct us_smf_melody *melody);

/* Reads the file and makes its melody one voice in quarter notes: where notes overlap the highest wins, a
   legato overlap is cut.  Written music is put on its grid exactly; playing that keeps to the file's tempo is
   rounded to sixteenths and triplets; free playing stays as it was played.  Metre, key, tempo and title where
   the file says them (C major counts as not said); `pickup` from later time signatures, else negative. Errors
   as us_smf_read; a file without notes is US_STATUS_BAD_INPUT. */
enum us_status us_smf_tune(const void *bytes, size_t size, const char *name, struct us_tune_file *out,
                           struct us_error *error) US_WARN_UNUSED;

#endif
