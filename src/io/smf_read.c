/* Chunks and events of a Standard MIDI File; smf_time.c puts them in order and gives them their times. */
#include "undersong/smf.h"

#include <stdlib.h>
#include <string.h>

#include "smf_parts.h"

struct reader {
    struct us_smf *smf;
    const char *name;
    struct us_error *error;
    const uint8_t *bytes;
    size_t at, end; /* of the track being read */
    size_t capacity;
};

static enum us_status bad(const struct reader *r, size_t at, const char *what)
{
    return us_error_set(r->error, US_STATUS_BAD_INPUT, "%s: byte %zu: %s; export or copy the file again",
                        r->name, at, what);
}

static uint32_t big_endian(const uint8_t *bytes, int count)
{
    uint32_t value = 0;
    for (int i = 0; i < count; i++)
        value = value << 8 | bytes[i];
    return value;
}

/* A variable-length quantity of at most four bytes. */
static enum us_status read_variable(struct reader *r, uint32_t *value)
{
    size_t start = r->at;
    *value = 0;
    for (int i = 0; i < 4; i++) {
        if (r->at >= r->end) return bad(r, start, "the track ends inside a time or a length");
        uint8_t byte = r->bytes[r->at++];
        *value = *value << 7 | (byte & 0x7F);
        if (byte < 0x80) return US_STATUS_OK;
    }
    return bad(r, start, "a time or a length of more than four bytes");
}

static enum us_status add_event(struct reader *r, struct us_smf_event event)
{
    struct us_smf *smf = r->smf;
    if (smf->count == r->capacity) {
        size_t capacity = r->capacity ? r->capacity * 2 : 256;
        struct us_smf_event *events = realloc(smf->events, capacity * sizeof *events);
        if (!events) return us_error_set(r->error, US_STATUS_NO_MEMORY, "%s: not enough memory", r->name);
        smf->events = events;
        r->capacity = capacity;
    }
    if (smf->count >= US_SMF_EVENTS_MAX)
        return us_error_set(r->error, US_STATUS_BAD_INPUT, "%s: byte %u: more than %d events; split the file",
                            r->name, event.offset, US_SMF_EVENTS_MAX);
    smf->events[smf->count++] = event;
    return US_STATUS_OK;
}

/* Meta and SysEx: a length, then that many bytes. */
static enum us_status read_payload(struct reader *r, struct us_smf_event *event)
{
    enum us_status status = read_variable(r, &event->length);
    if (status) return status;
    if (event->length > r->end - r->at) return bad(r, event->offset, "the event is longer than its track");
    event->data = r->bytes + r->at;
    r->at += event->length;
    return US_STATUS_OK;
}

static enum us_status read_meta(struct reader *r, struct us_smf_event *event)
{
    if (r->at >= r->end) return bad(r, event->offset, "the track ends inside an event");
    event->data1 = r->bytes[r->at++];
    enum us_status status = read_payload(r, event);
    if (status) return status;
    if (event->data1 == US_SMF_TEMPO && (event->length < 3 || !big_endian(event->data, 3)))
        return bad(r, event->offset, "a tempo without a value");
    if (event->data1 == US_SMF_METRE && event->length < 2)
        return bad(r, event->offset, "half a time signature");
    if (event->data1 == US_SMF_KEY && event->length < 2) return bad(r, event->offset, "half a key signature");
    return US_STATUS_OK;
}

static enum us_status read_channel(struct reader *r, struct us_smf_event *event)
{
    size_t data = us_midi_message_length(event->status) - 1;
    if (data > r->end - r->at) return bad(r, event->offset, "the track ends inside an event");
    for (size_t i = 0; i < data; i++)
        if (r->bytes[r->at + i] >= 0x80) return bad(r, r->at + i, "a new event inside another");
    event->data1 = r->bytes[r->at];
    event->data2 = data == 2 ? r->bytes[r->at + 1] : 0;
    r->at += data;
    if ((event->status & 0xF0) == US_MIDI_NOTE_ON && event->data2 == 0) {
        event->status = (uint8_t)(US_MIDI_NOTE_OFF | (event->status & 0x0F));
        event->data2 = US_MIDI_RELEASE;
    }
    return US_STATUS_OK;
}

/* Reads one event after its delta time; `running` is the running status, 0 where there is none. */
static enum us_status read_event(struct reader *r, uint8_t *running, struct us_smf_event *event)
{
    if (r->at >= r->end) return bad(r, r->at, "the track ends after a time, without its event");
    event->offset = (uint32_t)r->at;
    event->status = r->bytes[r->at];
    if (event->status >= 0x80)
        r->at++;
    else
        event->status = *running;
    *running = event->status < 0xF0 ? event->status : 0; /* SysEx and meta cancel it */
    if (!event->status) return bad(r, r->at, "a data byte where an event should begin");
    if (event->status < 0xF0) return read_channel(r, event);
    if (event->status == US_SMF_META_STATUS) return read_meta(r, event);
    if (event->status == US_MIDI_SYSEX || event->status == US_MIDI_SYSEX_END) return read_payload(r, event);
    return bad(r, event->offset, "an event that no MIDI file may hold");
}

static enum us_status read_track(struct reader *r, int track)
{
    uint8_t running = 0;
    int64_t tick = 0;
    while (r->at < r->end) {
        struct us_smf_event event = {.track = (uint16_t)track};
        uint32_t delta;
        enum us_status status = read_variable(r, &delta);
        if (!status) status = read_event(r, &running, &event);
        if (status) return status;
        event.tick = tick += delta;
        if ((status = add_event(r, event))) return status;
        if (us_smf_is_meta(&event, US_SMF_END_OF_TRACK)) return US_STATUS_OK;
    }
    struct us_smf_event end = {.tick = tick,
                               .offset = (uint32_t)r->end,
                               .track = (uint16_t)track,
                               .status = US_SMF_META_STATUS,
                               .data1 = US_SMF_END_OF_TRACK,
                               .data = r->bytes + r->end};
    return add_event(r, end); /* tolerated: the end of track is missing */
}

static enum us_status read_header(struct reader *r, size_t size, struct smf_clock *clock, int *promised)
{
    if (size < 4 || memcmp(r->bytes, "MThd", 4) != 0)
        return us_error_set(
            r->error, US_STATUS_BAD_INPUT,
            "%s: byte 0: not a Standard MIDI File (it does not begin with MThd); give a .mid file", r->name);
    if (size < 14) return bad(r, size, "the file ends within its header");
    uint32_t length = big_endian(r->bytes + 4, 4);
    if (length < 6 || length > size - 8) return bad(r, 4, "the header's length is wrong");
    r->smf->format = (int)big_endian(r->bytes + 8, 2);
    *promised = (int)big_endian(r->bytes + 10, 2);
    int division = (int)big_endian(r->bytes + 12, 2);
    if (r->smf->format > 2) return bad(r, 8, "a format other than 0, 1 and 2");
    if (!us_smf_clock_init(clock, division))
        return bad(r, 12, "a division that is neither ticks nor time code");
    r->smf->ticks_per_quarter = division < 0x8000 ? division : 0;
    r->at = 8 + length;
    return US_STATUS_OK;
}

/* A track that the header does not promise: kept where it is whole, else as if it were not there. */
static bool read_surplus(struct reader *r)
{
    struct reader attempt = *r;
    struct us_error ignored;
    attempt.error = &ignored;
    size_t before = r->smf->count;
    enum us_status status = read_track(&attempt, r->smf->tracks);
    r->capacity = attempt.capacity;
    if (status)
        r->smf->count = before;
    else
        r->smf->tracks++;
    return status == US_STATUS_OK;
}

static enum us_status read_chunks(struct reader *r, size_t size, int promised)
{
    while (size - r->at >= 8) {
        const uint8_t *head = r->bytes + r->at;
        bool track = memcmp(head, "MTrk", 4) == 0, surplus = r->smf->tracks >= promised;
        uint32_t length = big_endian(head + 4, 4);
        if (length > size - r->at - 8) {
            if (surplus) break; /* whatever follows the last track */
            return bad(r, r->at, "the file ends inside this chunk: it was cut short");
        }
        r->at += 8;
        r->end = r->at + length;
        enum us_status status = US_STATUS_OK;
        if (track && surplus && (r->smf->tracks == UINT16_MAX || !read_surplus(r))) break;
        if (track && !surplus) status = read_track(r, r->smf->tracks++);
        if (status) return status;
        r->at = r->end;
    }
    if (r->smf->tracks < promised || !r->smf->tracks)
        return us_error_set(r->error, US_STATUS_BAD_INPUT,
                            "%s: byte %zu: the file ends after %d of %d tracks: it was cut short; export or "
                            "copy the file again",
                            r->name, size, r->smf->tracks, promised);
    return US_STATUS_OK;
}

enum us_status us_smf_read(struct us_smf *smf, const void *bytes, size_t size, const char *name,
                           struct us_error *error)
{
    *smf = (struct us_smf){0};
    if (size > US_SMF_BYTES_MAX)
        return us_error_set(error, US_STATUS_BAD_INPUT, "%s: larger than %d MB; split the file", name,
                            US_SMF_BYTES_MAX >> 20);
    smf->bytes = malloc(size + 1);
    if (!smf->bytes) return us_error_set(error, US_STATUS_NO_MEMORY, "%s: not enough memory", name);
    if (size) memcpy(smf->bytes, bytes, size);
    struct reader r = {.smf = smf, .name = name, .error = error, .bytes = smf->bytes};
    struct smf_clock clock;
    int promised = 0;
    enum us_status status = read_header(&r, size, &clock, &promised);
    if (!status) status = read_chunks(&r, size, promised);
    if (!status) status = us_smf_give_times(smf, clock, name, error);
    if (status) us_smf_finish(smf);
    return status;
}

void us_smf_finish(struct us_smf *smf)
{
    if (!smf) return;
    free(smf->events);
    free(smf->bytes);
    *smf = (struct us_smf){0};
}

bool us_smf_is_meta(const struct us_smf_event *event, enum us_smf_meta type)
{
    return event->status == US_SMF_META_STATUS && event->data1 == type;
}

uint32_t us_smf_tempo_us(const struct us_smf_event *event)
{
    return us_smf_is_meta(event, US_SMF_TEMPO) && event->length >= 3 ? big_endian(event->data, 3) : 500000;
}

struct us_metre us_smf_metre(const struct us_smf_event *event)
{
    if (!us_smf_is_meta(event, US_SMF_METRE) || event->length < 2) return (struct us_metre){0};
    uint8_t top = event->data[0], power = event->data[1];
    if (top < 1 || top > 32 || power > 5) return (struct us_metre){0};
    return (struct us_metre){top, (uint8_t)(1 << power)};
}

struct us_key us_smf_key(const struct us_smf_event *event)
{
    if (!us_smf_is_meta(event, US_SMF_KEY) || event->length < 2) return (struct us_key){US_NO_KEY, 0};
    int sharps = (int8_t)event->data[0];
    bool minor = event->data[1] == 1;
    if (sharps < -7 || sharps > 7 || event->data[1] > 1) return (struct us_key){US_NO_KEY, 0};
    int tonic = us_pitch_class(sharps * 7 + (minor ? 9 : 0)); /* each sharp is a fifth up */
    return (struct us_key){(int8_t)tonic, minor ? US_MODE_MINOR : US_MODE_MAJOR};
}
