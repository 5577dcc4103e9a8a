#include "undersong/smf_writer.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "undersong/file_save.h"

enum { PAYLOAD_MAX = 255, DELTA_MAX = 0x0FFFFFFF };

struct entry {
    int64_t tick;
    size_t order; /* as it was given */
    uint8_t track;
    uint8_t rank;
    uint8_t status, data1, data2;
    uint8_t length;
    size_t payload; /* place in the pool */
};

struct us_smf_writer {
    int division, tracks;
    int64_t origin, end; /* ticks */
    struct entry *entries;
    size_t count, capacity;
    uint8_t *pool;
    size_t pooled, pool_capacity;
    bool out_of_memory;
};

/* In what order things of one tick go; a note that begins and ends within it counts up from RANK_ON: off, on
   again, off. */
enum { RANK_OFF, RANK_OTHER, RANK_ON, RANK_MOST = 254 };

struct us_smf_writer *us_smf_writer_create(int ticks_per_quarter)
{
    struct us_smf_writer *writer = calloc(1, sizeof *writer);
    if (!writer) return NULL;
    writer->division = ticks_per_quarter < 1 ? 1 : ticks_per_quarter > 32767 ? 32767 : ticks_per_quarter;
    writer->tracks = 1;
    return writer;
}

void us_smf_writer_destroy(struct us_smf_writer *writer)
{
    if (!writer) return;
    free(writer->entries);
    free(writer->pool);
    free(writer);
}

static bool grow(void **array, size_t *capacity, size_t need, size_t item)
{
    if (need <= *capacity) return true;
    size_t wanted = *capacity * 2 > need ? *capacity * 2 : need + 256;
    void *larger = realloc(*array, wanted * item);
    if (!larger) return false;
    *array = larger;
    *capacity = wanted;
    return true;
}

static void append(struct us_smf_writer *writer, int track, int64_t tick, struct entry entry)
{
    void *entries = writer->entries;
    bool fits = grow(&entries, &writer->capacity, writer->count + 1, sizeof *writer->entries);
    writer->entries = entries;
    if (!fits) {
        writer->out_of_memory = true;
        return;
    }
    entry.tick = tick < writer->origin ? writer->origin : tick;
    if (entry.tick > writer->end) writer->end = entry.tick;
    entry.order = writer->count;
    entry.track = (uint8_t)(track < 0 ? 0 : track >= writer->tracks ? writer->tracks - 1 : track);
    writer->entries[writer->count++] = entry;
}

int us_smf_writer_track(struct us_smf_writer *writer, const char *name)
{
    if (writer->tracks < US_SMF_TRACKS_MAX) writer->tracks++;
    if (*name) us_smf_writer_text(writer, writer->tracks - 1, 0, US_SMF_TRACK_NAME, name);
    return writer->tracks - 1;
}

void us_smf_writer_message(struct us_smf_writer *writer, int track, int64_t tick,
                           struct us_midi_message message)
{
    if (message.status < 0x80 || message.status >= 0xF0) return;
    uint8_t kind = message.status & 0xF0;
    bool note =
        kind == US_MIDI_NOTE_ON || kind == US_MIDI_NOTE_OFF; /* its rank is found when all are known */
    struct entry entry = {.rank = note ? RANK_OFF : RANK_OTHER, .status = message.status};
    entry.data1 = message.data1 & 0x7F;
    entry.data2 = message.data2 & 0x7F;
    append(writer, track, tick, entry);
}

void us_smf_writer_meta(struct us_smf_writer *writer, int track, int64_t tick, uint8_t type, const void *data,
                        size_t length)
{
    if (type == US_SMF_END_OF_TRACK) return; /* written where it belongs */
    if (length > PAYLOAD_MAX) length = PAYLOAD_MAX;
    void *pool = writer->pool;
    bool fits = grow(&pool, &writer->pool_capacity, writer->pooled + length, 1);
    writer->pool = pool;
    if (!fits) {
        writer->out_of_memory = true;
        return;
    }
    if (length) memcpy(writer->pool + writer->pooled, data, length);
    append(writer, track, tick,
           (struct entry){.rank = RANK_OTHER,
                          .status = US_SMF_META_STATUS,
                          .data1 = type,
                          .length = (uint8_t)length,
                          .payload = writer->pooled});
    writer->pooled += length;
}

void us_smf_writer_text(struct us_smf_writer *writer, int track, int64_t tick, enum us_smf_meta type,
                        const char *text)
{
    us_smf_writer_meta(writer, track, tick, (uint8_t)type, text, strlen(text));
}

void us_smf_writer_tempo(struct us_smf_writer *writer, int64_t tick, uint32_t quarter_us)
{
    if (quarter_us < 1) quarter_us = 1;
    if (quarter_us > 0xFFFFFF) quarter_us = 0xFFFFFF;
    uint8_t data[3] = {(uint8_t)(quarter_us >> 16), (uint8_t)(quarter_us >> 8), (uint8_t)quarter_us};
    us_smf_writer_meta(writer, 0, tick, US_SMF_TEMPO, data, sizeof data);
}

void us_smf_writer_metre(struct us_smf_writer *writer, int64_t tick, struct us_metre metre)
{
    if (!metre.top || !metre.bottom) return;
    uint8_t power = 0;
    while (1 << power < metre.bottom)
        power++;
    double click = us_metre_beat_quarters(metre) * 24; /* MIDI clocks a metronome click */
    uint8_t data[4] = {metre.top, power, (uint8_t)(click < 1 ? 1 : click), 8};
    us_smf_writer_meta(writer, 0, tick, US_SMF_METRE, data, sizeof data);
}

void us_smf_writer_key(struct us_smf_writer *writer, int64_t tick, struct us_key key)
{
    if (key.tonic == US_NO_KEY) return;
    uint8_t data[2] = {(uint8_t)us_key_signature(key), us_mode_has_minor_third((enum us_mode)key.mode)};
    us_smf_writer_meta(writer, 0, tick, US_SMF_KEY, data, sizeof data);
    if (key.mode != US_MODE_DORIAN && key.mode != US_MODE_MIXOLYDIAN) return;
    char name[32], text[40];
    snprintf(text, sizeof text, "key %s", us_key_name(key, name, sizeof name));
    us_smf_writer_text(writer, 0, tick, US_SMF_TEXT, text);
}

int64_t us_smf_performed_tick(int64_t at_ns)
{
    const int64_t each_us = US_SMF_PERFORMED_TEMPO_US, ticks = US_SMF_PERFORMED_DIVISION;
    if (at_ns < 0) return 0;
    int64_t seconds = at_ns / 1000000000, rest = at_ns % 1000000000;
    return seconds * 1000000 * ticks / each_us + (rest * ticks + each_us * 500) / (each_us * 1000);
}

void us_smf_writer_continue(struct us_smf_writer *writer, int64_t tick)
{
    writer->origin = writer->end = tick;
}

int64_t us_smf_writer_end(const struct us_smf_writer *writer)
{
    return writer->end;
}

static int by_track_and_time(const void *a, const void *b)
{
    const struct entry *x = a, *y = b;
    if (x->track != y->track) return x->track < y->track ? -1 : 1;
    if (x->tick != y->tick) return x->tick < y->tick ? -1 : 1;
    if (x->rank != y->rank) return x->rank < y->rank ? -1 : 1;
    return x->order < y->order ? -1 : x->order > y->order;
}

static int as_given(const void *a, const void *b)
{
    const struct entry *x = a, *y = b;
    if (x->track != y->track) return x->track < y->track ? -1 : 1;
    if (x->tick != y->tick) return x->tick < y->tick ? -1 : 1;
    return x->order < y->order ? -1 : x->order > y->order;
}

/* One key of one channel: how many of its notes are older than the tick, or began in it, and the rank of the
   last event in it (RANK_ON and every second after: it sounds). */
struct key_state {
    int64_t tick;
    uint32_t older, begun;
    uint8_t rank;
};

static void rank_on(struct key_state *key, struct entry *entry, bool sounds)
{
    key->rank = (uint8_t)(key->rank < RANK_ON ? RANK_ON : key->rank + (!sounds && key->rank < RANK_MOST));
    entry->rank = key->rank;
    key->begun++;
}

static void rank_off(struct key_state *key, struct entry *entry, bool sounds)
{
    entry->rank = RANK_OFF;
    if (key->older) {
        key->older--;
    } else if (key->begun) {
        entry->rank = key->rank = (uint8_t)(key->rank + (sounds && key->rank < RANK_MOST));
        key->begun--;
    }
}

static void rank_note(struct key_state *key, struct entry *entry)
{
    if (key->tick != entry->tick)
        *key = (struct key_state){.tick = entry->tick, .older = key->older + key->begun};
    bool sounds = key->rank >= RANK_ON && (key->rank - RANK_ON) % 2 == 0;
    if ((entry->status & 0xF0) == US_MIDI_NOTE_ON && entry->data2)
        rank_on(key, entry, sounds);
    else
        rank_off(key, entry, sounds);
}

static void sort_entries(struct us_smf_writer *writer)
{
    struct key_state keys[16 * 128] = {{0}};
    if (!writer->count) return;
    qsort(writer->entries, writer->count, sizeof *writer->entries, as_given);
    for (size_t i = 0; i < writer->count; i++) {
        struct entry *entry = &writer->entries[i];
        if (i && entry->track != entry[-1].track) memset(keys, 0, sizeof keys);
        if (entry->rank != RANK_OTHER)
            rank_note(&keys[(size_t)(entry->status & 15) << 7 | entry->data1], entry);
    }
    qsort(writer->entries, writer->count, sizeof *writer->entries, by_track_and_time);
}

static uint8_t *put_big_endian(uint8_t *out, uint32_t value, int count)
{
    for (int i = count - 1; i >= 0; i--)
        *out++ = (uint8_t)(value >> 8 * i);
    return out;
}

static uint8_t *put_variable(uint8_t *out, uint32_t value)
{
    for (int shift = 21; shift > 0; shift -= 7)
        if (value >> shift) *out++ = (uint8_t)(0x80 | (value >> shift & 0x7F));
    *out++ = value & 0x7F;
    return out;
}

static uint8_t *put_delta(uint8_t *out, int64_t delta)
{
    return put_variable(out, delta > DELTA_MAX ? DELTA_MAX : (uint32_t)delta);
}

static uint8_t *put_entry(uint8_t *out, const struct us_smf_writer *writer, const struct entry *entry)
{
    *out++ = entry->status;
    *out++ = entry->data1;
    if (entry->status != US_SMF_META_STATUS) {
        if (us_midi_message_length(entry->status) == 3) *out++ = entry->data2;
        return out;
    }
    out = put_variable(out, entry->length);
    if (entry->length) memcpy(out, writer->pool + entry->payload, entry->length);
    return out + entry->length;
}

static uint8_t *put_track(uint8_t *out, const struct us_smf_writer *writer, int track, size_t *at)
{
    memcpy(out, "MTrk", 4);
    uint8_t *length = out + 4, *start = out + 8;
    int64_t now = writer->origin;
    out = start;
    for (; *at < writer->count && writer->entries[*at].track == track; ++*at) {
        out = put_delta(out, writer->entries[*at].tick - now);
        now = writer->entries[*at].tick;
        out = put_entry(out, writer, &writer->entries[*at]);
    }
    memcpy(out, "\x00\xFF\x2F", 4);
    out += 4;
    put_big_endian(length, (uint32_t)(out - start), 4);
    return out;
}

enum us_status us_smf_writer_bytes(struct us_smf_writer *writer, uint8_t **bytes, size_t *size,
                                   struct us_error *error)
{
    size_t most = 14 + (size_t)writer->tracks * 12 + writer->count * 9 + writer->pooled;
    *bytes = writer->out_of_memory ? NULL : malloc(most);
    if (!*bytes) return us_error_set(error, US_STATUS_NO_MEMORY, "not enough memory for the MIDI file");
    sort_entries(writer);
    uint8_t *out = *bytes;
    memcpy(out, "MThd\0\0\0\6\0\1", 10);
    out = put_big_endian(out + 10, (uint32_t)writer->tracks, 2);
    out = put_big_endian(out, (uint32_t)writer->division, 2);
    size_t at = 0;
    for (int track = 0; track < writer->tracks; track++)
        out = put_track(out, writer, track, &at);
    *size = (size_t)(out - *bytes);
    return US_STATUS_OK;
}

enum us_status us_smf_writer_save(struct us_smf_writer *writer, const char *path, mode_t mode,
                                  struct us_error *error)
{
    uint8_t *bytes;
    size_t size;
    enum us_status status = us_smf_writer_bytes(writer, &bytes, &size, error);
    if (status) return status;
    status = us_file_save(path, bytes, size, mode, error);
    free(bytes);
    return status;
}
