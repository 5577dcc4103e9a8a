#ifndef TUNE_MIDI_H
#define TUNE_MIDI_H

#include "undersong/smf.h"
#include "undersong/tune_file.h"

/* The melody of a MIDI file, its times in quarters from the start of the file: the highest part, and of notes
   that sound together the highest.  Fails where the file has no notes. */
US_WARN_UNUSED enum us_status us_tune_from_smf(const struct us_smf *smf, const char *name,
                                               struct us_tune_file *out, struct us_error *error);

#endif
