#include "parts.h"

#include "undersong/musicxml.h"

static const char PART[] = "musicxml";

enum us_status us_musicxml_read(const char *text, size_t size, const char *name, struct us_tune_file *out,
                                struct us_error *error)
{
    __typeof__(&us_musicxml_read) read = PART_FUNCTION(PART, us_musicxml_read, error);
    return read ? read(text, size, name, out, error) : US_STATUS_NO_DEVICE;
}

enum us_status us_mxl_read(const void *bytes, size_t size, const char *name, struct us_tune_file *out,
                           struct us_error *error)
{
    __typeof__(&us_mxl_read) read = PART_FUNCTION(PART, us_mxl_read, error);
    return read ? read(bytes, size, name, out, error) : US_STATUS_NO_DEVICE;
}

enum us_status us_mxl_pack(const char *score, size_t score_size, void **bytes, size_t *size,
                           struct us_error *error)
{
    __typeof__(&us_mxl_pack) pack = PART_FUNCTION(PART, us_mxl_pack, error);
    return pack ? pack(score, score_size, bytes, size, error) : US_STATUS_NO_DEVICE;
}
