/* Any text as a tune in abc: read or refused with one line that names the place. */
#include <string.h>

#include "fuzz_tune.h"
#include "undersong/abc.h"

/* What was read can be written, and that plays the same when it is read. */
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
    if (!status) {
        status = us_abc_read(text, size, "back.abc", 0, &back, &error);
        if (status) fprintf(stderr, "%s\n%s\n", error.text, text);
        fuzz_check_back(tune, status, &back);
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
    if (us_abc_list(text, size, "x.abc", &entries, &count, &error))
        fuzz_check_refusal(&error, "x.abc");
    else
        free(entries);
    free(text);
    return 0;
}
