/* A MIDI file from the disk into memory. */
#include "undersong/smf.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "file_open.h"

static enum us_status read_all(FILE *file, const char *path, uint8_t **bytes, size_t *size,
                               struct us_error *error)
{
    size_t capacity = 1 << 16;
    *size = 0;
    *bytes = malloc(capacity);
    while (*bytes) {
        *size += fread(*bytes + *size, 1, capacity - *size, file);
        if (ferror(file) && errno == EISDIR)
            return us_error_set(error, US_STATUS_NOT_FOUND, "%s: this is a folder; name a file in it", path);
        if (ferror(file))
            return us_error_set(error, US_STATUS_IO, "%s: cannot be read: %s", path, strerror(errno));
        if (*size < capacity || capacity > US_SMF_BYTES_MAX) return US_STATUS_OK;
        uint8_t *larger = realloc(*bytes, capacity *= 2);
        if (!larger) break;
        *bytes = larger;
    }
    return us_error_set(error, US_STATUS_NO_MEMORY, "%s: not enough memory", path);
}

enum us_status us_smf_load(struct us_smf *smf, const char *path, struct us_error *error)
{
    *smf = (struct us_smf){0};
    FILE *file = file_open(path);
    if (!file)
        return us_error_set(error, US_STATUS_NOT_FOUND,
                            "%s: cannot be opened (%s); check the name of the file", path, strerror(errno));
    uint8_t *bytes = NULL;
    size_t size;
    enum us_status status = read_all(file, path, &bytes, &size, error);
    fclose(file);
    if (!status) status = us_smf_read(smf, bytes, size, path, error);
    free(bytes);
    return status;
}
