#include "recorder_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "undersong/file_save.h"

enum { HEADER_BYTES = 14, TRACK_COUNT_AT = 10 };

static enum us_status cannot(const struct recorder_file *file, struct us_error *error)
{
    return us_error_set(error, US_STATUS_IO, "%s: the session cannot be kept (%s); make room or use --keep",
                        file->path, strerror(errno));
}

static struct us_smf_writer *new_file(int track[US_VOICES])
{
    static const char *const NAMES[US_VOICES] = {"melody", "left hand", "second voice"};
    struct us_smf_writer *writer = us_smf_writer_create(US_SMF_PERFORMED_DIVISION);
    if (!writer) return NULL;
    us_smf_writer_tempo(writer, 0, US_SMF_PERFORMED_TEMPO_US);
    for (int voice = 0; voice < US_VOICES; voice++)
        track[voice] = us_smf_writer_track(writer, NAMES[voice]);
    return writer;
}

/* Saves the file as it begins and opens it for what follows. */
static enum us_status save_and_open(struct recorder_file *file, struct us_smf_writer *writer,
                                    struct us_error *error)
{
    enum us_status status = us_smf_writer_save(writer, file->path, 0600, error);
    if (status) return status;
    int fd = open(file->path, O_RDWR | O_CLOEXEC);
    struct stat known;
    if (fd < 0 || fstat(fd, &known) < 0 || !S_ISREG(known.st_mode)) {
        status = us_error_set(error, US_STATUS_IO,
                              "%s: a session can only be kept in a file; choose another name", file->path);
        if (fd >= 0) close(fd);
        return status;
    }
    if (file->fd >= 0) close(file->fd);
    file->fd = fd;
    file->end = known.st_size;
    file->tracks = 1 + US_VOICES;
    return US_STATUS_OK;
}

enum us_status us_recorder_file_create(struct recorder_file *file, struct us_error *error)
{
    int track[US_VOICES];
    struct us_smf_writer *writer = new_file(track);
    file->fd = -1;
    if (!writer) return us_error_set(error, US_STATUS_NO_MEMORY, "%s: not enough memory", file->path);
    enum us_status status = save_and_open(file, writer, error);
    us_smf_writer_destroy(writer);
    return status;
}

static bool write_at(int fd, const uint8_t *bytes, size_t size, off_t at)
{
    while (size) {
        ssize_t wrote = pwrite(fd, bytes, size, at);
        if (wrote < 0 && errno == EINTR) continue;
        if (wrote < 0) return false;
        bytes += wrote;
        size -= (size_t)wrote;
        at += wrote;
    }
    return true;
}

static bool sync_data(int fd)
{
    return fdatasync(fd) == 0 || errno == EINVAL ||
           errno == EROFS; /* some file systems have nothing to sync */
}

static enum us_status append_chunk(struct recorder_file *file, const uint8_t *chunk, size_t size,
                                   struct us_error *error)
{
    unsigned tracks = file->tracks + 1;
    uint8_t count[2] = {(uint8_t)(tracks >> 8), (uint8_t)tracks};
    if (tracks > UINT16_MAX) {
        errno = EFBIG;
        return cannot(file, error);
    }
    if (!write_at(file->fd, chunk, size, file->end) || !sync_data(file->fd) ||
        !write_at(file->fd, count, sizeof count, TRACK_COUNT_AT) || !sync_data(file->fd)) {
        enum us_status status = cannot(file, error);
        count[0] = (uint8_t)(file->tracks >> 8);
        count[1] = (uint8_t)file->tracks;
        if (write_at(file->fd, count, sizeof count, TRACK_COUNT_AT) && ftruncate(file->fd, file->end) < 0)
            return status; /* bytes after the last track are harmless */
        return status;
    }
    file->end += (off_t)size;
    file->tracks = tracks;
    return US_STATUS_OK;
}

enum us_status us_recorder_file_append(struct recorder_file *file, struct us_smf_writer *writer,
                                       struct us_error *error)
{
    uint8_t *bytes;
    size_t size;
    enum us_status status = us_smf_writer_bytes(writer, &bytes, &size, error);
    if (status) return status;
    status = append_chunk(file, bytes + HEADER_BYTES, size - HEADER_BYTES, error);
    free(bytes);
    return status;
}

/* What is kept goes to the track of its channel, everything else to the first one. */
static void copy_event(struct us_smf_writer *writer, const int track[US_VOICES],
                       const struct us_smf_event *event)
{
    if (event->status < 0xF0) {
        int voice = event->status & 0x0F;
        us_smf_writer_message(writer, track[voice < US_VOICES ? voice : US_VOICES - 1], event->tick,
                              (struct us_midi_message){event->status, event->data1, event->data2});
    } else if (event->status == US_SMF_META_STATUS && event->data1 != US_SMF_TRACK_NAME &&
               event->data1 != US_SMF_TEMPO) {
        us_smf_writer_meta(writer, 0, event->tick, event->data1, event->data, event->length);
    }
}

enum us_status us_recorder_file_tidy(struct recorder_file *file, struct us_error *error)
{
    struct us_smf smf;
    int track[US_VOICES];
    enum us_status status = us_smf_load(&smf, file->path, error);
    if (status) return status;
    struct us_smf_writer *writer = new_file(track);
    if (writer) {
        for (size_t i = 0; i < smf.count; i++)
            copy_event(writer, track, &smf.events[i]);
        status = save_and_open(file, writer, error);
    } else {
        status = us_error_set(error, US_STATUS_NO_MEMORY, "%s: not enough memory", file->path);
    }
    us_smf_writer_destroy(writer);
    us_smf_finish(&smf);
    return status;
}
