/* Any bytes as a MusicXML score, plain or compressed: read or refused with one line, and what was read can be
   written and plays the same when it is read again. */
#include <string.h>

#include "fuzz_tune.h"
#include "undersong/musicxml.h"

static void check_packed(const struct us_tune *tune)
{
    void *bytes;
    size_t size;
    struct us_error error = {0};
    struct us_tune_file back;
    if (us_mxl_bytes(tune, &bytes, &size, &error)) return;
    enum us_status status = us_mxl_read(bytes, size, "back.mxl", &back, &error);
    fuzz_check_back(tune, status, &back);
    us_tune_file_finish(&back);
    free(bytes);
}

static void check_plain(const struct us_tune *tune)
{
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
        if (status) fprintf(stderr, "%s\n%s\n", error.text, text);
        fuzz_check_back(tune, status, &back);
        us_tune_file_finish(&back);
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
        fuzz_check_refusal(&error, "x.xml");
        return 0;
    }
    fuzz_check_tune(&file.tune);
    if (file.tune.note_count <= 2000) (packed ? check_packed : check_plain)(&file.tune);
    us_tune_file_finish(&file);
    return 0;
}
