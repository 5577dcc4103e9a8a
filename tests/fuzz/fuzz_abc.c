/* Any text as a tune in abc: read or refused with one line that names the place. */
#include <math.h>
#include <string.h>

#include "fuzz_tune.h"
#include "undersong/abc.h"

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
        fuzz_check_refusal(&error, "x.abc");
    } else {
        fuzz_check_tune(&file.tune);
        if (file.tune.note_count < 2000) check_written(&file.tune);
        us_tune_file_finish(&file);
    }
    if (!us_abc_list(text, size, "x.abc", &entries, &count, &error)) free(entries);
    free(text);
    return 0;
}
