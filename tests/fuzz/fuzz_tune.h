/* What holds for every tune that a reader gives out. */
#ifndef FUZZ_TUNE_H
#define FUZZ_TUNE_H

#include <string.h>

#include "fuzz.h"
#include "undersong/tune_file.h"

/* A refusal is one line that begins with the name of the file. */
static inline void fuzz_check_refusal(const struct us_error *error, const char *name)
{
    size_t length = strlen(name);
    FUZZ_CHECK(error->status == US_STATUS_BAD_INPUT);
    FUZZ_CHECK(error->text[0] && !strchr(error->text, '\n') && strncmp(error->text, name, length) == 0 &&
               error->text[length] == ':');
}

static inline void fuzz_check_voice(const struct us_note *notes, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        FUZZ_CHECK(notes[i].len > 0 && notes[i].at >= 0 && notes[i].pitch >= 0 && notes[i].pitch < 128);
        FUZZ_CHECK(!i || notes[i].at >= notes[i - 1].at);
    }
}

static inline void fuzz_check_tune(const struct us_tune *tune)
{
    fuzz_check_voice(tune->notes, tune->note_count);
    fuzz_check_voice(tune->second, tune->second_count);
    for (size_t i = 0; i < tune->chord_count; i++) {
        const struct us_chord_span *span = &tune->chords[i];
        FUZZ_CHECK(span->len > 0 && span->chord.root >= 0 && span->chord.root < 12);
        FUZZ_CHECK(!i || span->at >= span[-1].at + span[-1].len - 1e-9);
    }
    for (size_t i = 1; i < tune->bar_count; i++)
        FUZZ_CHECK(tune->bars[i].at >= tune->bars[i - 1].at);
}

#endif
