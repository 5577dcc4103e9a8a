/* What holds for every tune that a reader gives out. */
#ifndef FUZZ_TUNE_H
#define FUZZ_TUNE_H

#include <math.h>
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

/* Lengths as people write them, one note after the other; others are only asked to do no harm. */
static inline bool fuzz_is_plain(const struct us_note *notes, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (notes[i].len > 8 || notes[i].len * 16 != floor(notes[i].len * 16) ||
            notes[i].at * 16 != floor(notes[i].at * 16) ||
            (i && notes[i - 1].at + notes[i - 1].len > notes[i].at))
            return false;
    return true;
}

static inline void fuzz_check_same(const struct us_note *a, size_t a_count, const struct us_note *b,
                                   size_t b_count)
{
    FUZZ_CHECK(a_count == b_count);
    for (size_t i = 0; i < a_count; i++)
        FUZZ_CHECK(a[i].pitch == b[i].pitch && fabs(a[i].at - b[i].at) < 1e-6 &&
                   fabs(a[i].len - b[i].len) < 1e-6);
}

/* A tune that was written and read again, with the reader's status: where it is plain it plays the same. */
static inline void fuzz_check_back(const struct us_tune *tune, enum us_status status,
                                   const struct us_tune_file *back)
{
    if (!fuzz_is_plain(tune->notes, tune->note_count) || !fuzz_is_plain(tune->second, tune->second_count))
        return;
    FUZZ_CHECK(!status);
    fuzz_check_same(tune->notes, tune->note_count, back->tune.notes, back->tune.note_count);
    fuzz_check_same(tune->second, tune->second_count, back->tune.second, back->tune.second_count);
}

#endif
