/* Any text as a tune in abc: read or refused with one line that names the place. */
#include <math.h>
#include <string.h>

#include "fuzz.h"
#include "undersong/abc.h"

static void check_line(const struct us_error *error)
{
    FUZZ_CHECK(error->status == US_STATUS_BAD_INPUT);
    FUZZ_CHECK(error->text[0] && !strchr(error->text, '\n') && strncmp(error->text, "x.abc:", 6) == 0);
}

static void check_voice(const struct us_note *notes, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        FUZZ_CHECK(notes[i].len > 0 && notes[i].at >= 0 && notes[i].pitch >= 0 && notes[i].pitch < 128);
        FUZZ_CHECK(!i || notes[i].at >= notes[i - 1].at);
    }
}

static void check_tune(const struct us_tune *tune)
{
    check_voice(tune->notes, tune->note_count);
    check_voice(tune->second, tune->second_count);
    for (size_t i = 0; i < tune->chord_count; i++) {
        const struct us_chord_span *span = &tune->chords[i];
        FUZZ_CHECK(span->len > 0 && span->chord.root >= 0 && span->chord.root < 12);
        FUZZ_CHECK(!i || span->at >= span[-1].at + span[-1].len - 1e-9);
    }
    for (size_t i = 1; i < tune->bar_count; i++)
        FUZZ_CHECK(tune->bars[i].at >= tune->bars[i - 1].at);
}

/* Lengths as people write them; others are only asked to do no harm. */
static bool is_plain(const struct us_note *notes, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (notes[i].len > 8 || notes[i].len * 16 != floor(notes[i].len * 16) ||
            notes[i].at * 16 != floor(notes[i].at * 16))
            return false;
    return true;
}

/* What was read can be written, and that can be read. */
static void check_written(const struct us_tune *tune)
{
    char *text = NULL;
    size_t size = 0;
    struct us_error error = {0};
    struct us_tune_file back;
    FILE *to = open_memstream(&text, &size);
    if (!to) abort();
    enum us_status status = us_abc_write(tune, 1, to, &error);
    fclose(to);
    bool plain = is_plain(tune->notes, tune->note_count) && is_plain(tune->second, tune->second_count);
    if (!status && plain) {
        status = us_abc_read(text, size, "back.abc", 0, &back, &error);
        if (status) fprintf(stderr, "%s\n%s\n", error.text, text);
        FUZZ_CHECK(!status);
        us_tune_file_finish(&back);
    }
    free(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct us_tune_file file;
    struct us_tune_entry *entries;
    size_t count;
    struct us_error error = {0};
    char *text = malloc(size + 1); /* the reader wants text that ends */
    if (!text) abort();
    memcpy(text, data, size);
    text[size] = '\0';
    if (us_abc_read(text, size, "x.abc", 0, &file, &error)) {
        check_line(&error);
    } else {
        check_tune(&file.tune);
        if (file.tune.note_count < 2000) check_written(&file.tune);
        us_tune_file_finish(&file);
    }
    if (!us_abc_list(text, size, "x.abc", &entries, &count, &error)) free(entries);
    free(text);
    return 0;
}
