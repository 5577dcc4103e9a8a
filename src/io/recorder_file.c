#include "recorder_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "undersong/file_save.h"

enum {
    HEADER_BYTES = 14, /* MThd; the track's length follows four bytes later */
    TRACK_BYTES_AT = HEADER_BYTES + 4,
    END_BYTES = 4,   /* 00 FF 2F 00 */
    FILLER_HEAD = 7, /* 00 FF 7F and a length of four bytes */
    ROOM = 32768,    /* of a new file: some minutes */
    ROOM_MAX = 1 << 20,
    SECTOR = 512,
    PRIVATE_USE = 0x7D /* the manufacturer's number for what is of no manufacturer (MIDI 1.0) */
};
static const uint8_t END_OF_TRACK[END_BYTES] = {0x00, 0xFF, US_SMF_END_OF_TRACK, 0x00};
static const uint8_t NOTHING[END_BYTES] = {0x00, 0xFF, US_SMF_TEXT, 0x00};

static enum us_status cannot(const struct recorder_file *file, struct us_error *error)
{
    return us_error_set(error, US_STATUS_IO, "%s: the session cannot be kept (%s); make room on the disk",
                        file->path, strerror(errno));
}

static enum us_status no_memory(const struct recorder_file *file, struct us_error *error)
{
    return us_error_set(error, US_STATUS_NO_MEMORY, "%s: not enough memory to keep the session", file->path);
}

/* The head of a filler that begins at `from` and whose payload reaches `until`. */
static void put_filler_head(uint8_t *out, off_t from, off_t until)
{
    uint32_t length = (uint32_t)(until - from - FILLER_HEAD);
    const uint8_t head[FILLER_HEAD] = {0x00,
                                       0xFF,
                                       0x7F,
                                       (uint8_t)(0x80 | (length >> 21 & 0x7F)),
                                       (uint8_t)(0x80 | (length >> 14 & 0x7F)),
                                       (uint8_t)(0x80 | (length >> 7 & 0x7F)),
                                       length & 0x7F};
    memcpy(out, head, sizeof head);
}

static bool in_one_sector(off_t head)
{
    return head / SECTOR == (head + FILLER_HEAD - 1) / SECTOR;
}

/* `size` bytes of a file whose last track ends with END_OF_TRACK, and `room` more in a filler before it. */
static uint8_t *with_filler(struct recorder_file *file, const uint8_t *bytes, size_t size, size_t room)
{
    uint8_t *out = calloc(1, size + room);
    if (!out) return NULL;
    size_t at = size - END_BYTES;
    memcpy(out, bytes, at);
    for (; !in_one_sector((off_t)at); at += sizeof NOTHING)
        memcpy(out + at, NOTHING, sizeof NOTHING);
    file->filler = (off_t)at;
    file->end = (off_t)(size + room - END_BYTES);
    put_filler_head(out + at, file->filler, file->end);
    out[at + FILLER_HEAD] = PRIVATE_USE;
    memcpy(out + file->end, END_OF_TRACK, sizeof END_OF_TRACK);
    uint32_t track = (uint32_t)(size + room - TRACK_BYTES_AT - 4);
    for (int i = 0; i < 4; i++)
        out[TRACK_BYTES_AT + i] = (uint8_t)(track >> 8 * (3 - i));
    return out;
}

static enum us_status reopen(struct recorder_file *file, struct us_error *error)
{
    struct stat known;
    int fd = open(file->path, O_RDWR | O_CLOEXEC);
    if (fd >= 0 && fstat(fd, &known) == 0 && S_ISREG(known.st_mode)) {
        if (file->fd >= 0) close(file->fd);
        file->fd = fd;
        return US_STATUS_OK;
    }
    if (fd >= 0) close(fd);
    return us_error_set(error, US_STATUS_IO, "%s: a session can only be kept in a file; choose another name",
                        file->path);
}

/* Puts a file of what `writer` holds, with that much room, in the place of the one before. */
static enum us_status replace(struct recorder_file *file, struct us_smf_writer *writer, size_t room,
                              struct us_error *error)
{
    uint8_t *bytes;
    size_t size;
    struct recorder_file next = *file;
    enum us_status status = us_smf_writer_bytes(writer, &bytes, &size, error);
    if (status) return status;
    uint8_t *whole = with_filler(&next, bytes, size, room);
    free(bytes);
    if (!whole) return no_memory(file, error);
    status = us_file_save(file->path, whole, size + room, 0600, error);
    free(whole);
    if (!status) status = reopen(&next, error);
    if (!status) *file = next;
    return status;
}

enum us_status us_recorder_file_create(struct recorder_file *file, struct us_error *error)
{
    struct us_smf_writer *writer = us_smf_writer_create(US_SMF_PERFORMED_DIVISION);
    file->fd = -1;
    file->tick = 0;
    if (!writer) return no_memory(file, error);
    us_smf_writer_tempo(writer, 0, US_SMF_PERFORMED_TEMPO_US);
    enum us_status status = replace(file, writer, ROOM, error);
    us_smf_writer_destroy(writer);
    return status;
}

static int track_of(const int *track, int channel)
{
    return track ? track[channel < US_VOICES ? channel : US_VOICES - 1] : 0;
}

/* Keeps book of what sounds, one pitch perhaps twice at one tick; false for a release of what does not. */
static bool note_counts(int sounding[16][US_PITCHES], const struct us_smf_event *event)
{
    int kind = event->status & 0xF0;
    if (kind != 0x90 && kind != 0x80) return true;
    int *notes = &sounding[event->status & 0x0F][event->data1 & 127];
    if (kind == 0x90 && event->data2) return ++*notes;
    return *notes && (*notes)--;
}

/* What a flood or a full disk left without an end. */
static void release(struct us_smf_writer *writer, const int *track, int sounding[16][US_PITCHES])
{
    int64_t end = us_smf_writer_end(writer);
    for (int channel = 0; channel < 16; channel++)
        for (int pitch = 0; pitch < US_PITCHES; pitch++)
            for (; sounding[channel][pitch]; sounding[channel][pitch]--)
                us_smf_writer_message(
                    writer, track_of(track, channel), end,
                    (struct us_midi_message){(uint8_t)(0x80 | channel), (uint8_t)pitch, 64});
}

/* Copies the file's events for a new one: into `track` by voice, or all into the first where it is NULL. */
static void copy_events(struct us_smf_writer *writer, const int *track, const struct us_smf *smf)
{
    int sounding[16][US_PITCHES] = {0};
    for (size_t i = 0; i < smf->count; i++) {
        const struct us_smf_event *event = &smf->events[i];
        if (track && !note_counts(sounding, event)) continue;
        if (event->status < 0xF0)
            us_smf_writer_message(writer, track_of(track, event->status & 0x0F), event->tick,
                                  (struct us_midi_message){event->status, event->data1, event->data2});
        else if (event->data1 != 0x7F && (event->data1 != US_SMF_TEXT || event->length)) /* no filler */
            us_smf_writer_meta(writer, 0, event->tick, event->data1, event->data, event->length);
    }
    if (track) release(writer, track, sounding);
}

static enum us_status rewrite(struct recorder_file *file, bool finish, size_t need, struct us_error *error)
{
    static const char *const NAMES[US_VOICES] = {"melody", "left hand", "second voice"};
    size_t room = file->end < ROOM_MAX ? (size_t)file->end : ROOM_MAX;
    int track[US_VOICES];
    struct us_smf smf;
    enum us_status status = us_smf_load(&smf, file->path, error);
    if (status) return status;
    struct us_smf_writer *writer = us_smf_writer_create(US_SMF_PERFORMED_DIVISION);
    if (writer) {
        for (int voice = 0; finish && voice < US_VOICES; voice++)
            track[voice] = us_smf_writer_track(writer, NAMES[voice]);
        copy_events(writer, finish ? track : NULL, &smf);
        status = finish ? us_smf_writer_save(writer, file->path, 0600, error)
                        : replace(file, writer, room + need, error);
    } else {
        status = no_memory(file, error);
    }
    us_smf_writer_destroy(writer);
    us_smf_finish(&smf);
    return status;
}

enum us_status us_recorder_file_finish(struct recorder_file *file, struct us_error *error)
{
    return rewrite(file, true, 0, error);
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

/* Writes `size` bytes of events, which has room for a filler's head and more behind them, into the filler. */
static enum us_status put_events(struct recorder_file *file, uint8_t *events, size_t size,
                                 struct us_error *error)
{
    off_t next = file->filler + (off_t)size;
    for (; !in_one_sector(next); next += (off_t)sizeof NOTHING, size += sizeof NOTHING)
        memcpy(events + size, NOTHING, sizeof NOTHING);
    put_filler_head(events + size, next, file->end);
    events[size + FILLER_HEAD] = PRIVATE_USE;
    if (!write_at(file->fd, events + FILLER_HEAD, size + 1, file->filler + FILLER_HEAD) ||
        !sync_data(file->fd) || !write_at(file->fd, events, FILLER_HEAD, file->filler) ||
        !sync_data(file->fd))
        return cannot(file, error);
    file->filler = next;
    return US_STATUS_OK;
}

enum us_status us_recorder_file_append(struct recorder_file *file, struct us_smf_writer *writer,
                                       struct us_error *error)
{
    enum { MORE = 64 }; /* for the next filler's head, and to keep it inside a sector */
    uint8_t *bytes, *larger;
    size_t size;
    enum us_status status = us_smf_writer_bytes(writer, &bytes, &size, error);
    if (status) return status;
    size_t from = TRACK_BYTES_AT + 4, events = size - from - END_BYTES;
    if (file->filler + (off_t)events + MORE > file->end) status = rewrite(file, false, events, error);
    if (!status && (larger = realloc(bytes, size + MORE)))
        status = put_events(file, (bytes = larger) + from, events, error);
    else if (!status)
        status = no_memory(file, error);
    free(bytes);
    if (!status) file->tick = us_smf_writer_end(writer);
    return status;
}
