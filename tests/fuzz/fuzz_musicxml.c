/* Any bytes as a MusicXML score, plain or compressed: read or refused with one line, and what was read can be
   written and read again. */
#include <string.h>

#include "fuzz.h"
#include "undersong/musicxml.h"

static void check_line(const struct us_error *error)
{
    FUZZ_CHECK(error->status == US_STATUS_BAD_INPUT);
    FUZZ_CHECK(error->text[0] && !strchr(error->text, '\n') && strncmp(error->text, "x.xml:", 6) == 0);
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
    for (size_t i = 0; i < tune->chord_count; i++)
        FUZZ_CHECK(tune->chords[i].len > 0 && tune->chords[i].chord.root >= 0 &&
                   tune->chords[i].chord.root < 12);
    if (tune->note_count > 2000) return;
    char *text = NULL;
    size_t size = 0;
    struct us_error error = {0};
    FILE *to = open_memstream(&text, &size);
    if (!to) abort();
    enum us_status status = us_musicxml_write(tune, to, &error);
    fclose(to);
    struct us_tune_file back;
    if (!status) {
        status = us_musicxml_read(text, size, "back.xml", &back, &error);
        if (!status) us_tune_file_finish(&back);
    }
    free(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct us_tune_file file;
    struct us_error error = {0};
    bool packed = size > 2 && data[0] == 'P' && data[1] == 'K';
    enum us_status status = packed ? us_mxl_read(data, size, "x.xml", &file, &error)
                                   : us_musicxml_read((const char *)data, size, "x.xml", &file, &error);
    if (status) {
        check_line(&error);
        return 0;
    }
    check_tune(&file.tune);
    us_tune_file_finish(&file);
    return 0;
}
