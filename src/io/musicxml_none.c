/* A build without libxml2 and libzip: MusicXML is written, not read. */
#include "undersong/musicxml.h"

#include <string.h>

static enum us_status missing(const char *name, struct us_error *error)
{
    return us_error_set(
        error, US_STATUS_BAD_INPUT,
        "%.200s: this build has no MusicXML reader (made without libxml2 or libzip); give the "
        "tune as .abc or .mid",
        name);
}

enum us_status us_musicxml_read(const char *text, size_t size, const char *name, struct us_tune_file *out,
                                struct us_error *error)
{
    (void)text, (void)size;
    memset(out, 0, sizeof *out);
    return missing(name, error);
}

enum us_status us_mxl_read(const void *bytes, size_t size, const char *name, struct us_tune_file *out,
                           struct us_error *error)
{
    (void)bytes, (void)size;
    memset(out, 0, sizeof *out);
    return missing(name, error);
}

enum us_status us_mxl_pack(const char *score, size_t score_size, void **bytes, size_t *size,
                           struct us_error *error)
{
    (void)score, (void)score_size;
    *bytes = NULL;
    *size = 0;
    return us_error_set(error, US_STATUS_BAD_INPUT,
                        "this build has no compressed MusicXML (made without libzip); write .musicxml");
}

enum us_status us_mxl_bytes(const struct us_tune *tune, void **bytes, size_t *size, struct us_error *error)
{
    (void)tune;
    return us_mxl_pack(NULL, 0, bytes, size, error);
}
