/* Any bytes as a MIDI file: read or refused with one line; what is read keeps its order and its bounds,
   written again it is read the same; its melody is one voice. */
#include <string.h>

#include "fuzz.h"
#include "undersong/smf_tune.h"
#include "undersong/smf_writer.h"

static void check_line(const struct us_error *error)
{
    FUZZ_CHECK(error->status == US_STATUS_BAD_INPUT);
    FUZZ_CHECK(error->text[0] && !strchr(error->text, '\n') && strncmp(error->text, "x.mid: ", 7) == 0);
}

static void check_events(const struct us_smf *smf, const uint8_t *data, size_t size)
{
    for (size_t i = 0; i < smf->count; i++) {
        const struct us_smf_event *e = &smf->events[i];
        FUZZ_CHECK(e->at_ns >= 0 && e->tick >= 0 && e->at_quarters >= 0 && e->track < smf->tracks);
        FUZZ_CHECK(!i ||
                   (e->at_ns >= e[-1].at_ns && e->tick >= e[-1].tick && e->at_quarters >= e[-1].at_quarters));
        FUZZ_CHECK(e->status >= 0x80 && e->offset <= size);
        if (e->status < 0xF0) FUZZ_CHECK(e->data1 < 0x80 && e->data2 < 0x80);
        FUZZ_CHECK(!e->length || (e->data >= smf->bytes && e->data + e->length <= smf->bytes + size));
        struct us_metre metre = us_smf_metre(e);
        FUZZ_CHECK(metre.top <= 32 && (!metre.top || (metre.bottom >= 1 && metre.bottom <= 32)));
        struct us_key key = us_smf_key(e);
        FUZZ_CHECK(key.tonic >= US_NO_KEY && key.tonic < 12 && us_smf_tempo_us(e) > 0);
    }
    FUZZ_CHECK(!memcmp(smf->bytes, data, size));
}

/* Channel messages of files that count in ticks, written by us and read again. */
static void check_written(const struct us_smf *smf)
{
    struct us_smf back;
    uint8_t *bytes;
    size_t size, notes = 0, notes_back = 0;
    struct us_smf_writer *writer =
        us_smf_writer_create(smf->ticks_per_quarter ? smf->ticks_per_quarter : 480);
    if (!writer) abort();
    for (size_t i = 0; i < smf->count; i++) {
        const struct us_smf_event *e = &smf->events[i];
        us_smf_writer_message(writer, 0, e->tick, (struct us_midi_message){e->status, e->data1, e->data2});
        if (e->status >= 0xF0) us_smf_writer_meta(writer, 0, e->tick, US_SMF_TEXT, e->data, e->length);
        notes += (e->status & 0xF0) == US_MIDI_NOTE_ON;
    }
    if (us_smf_writer_bytes(writer, &bytes, &size, NULL)) abort();
    us_smf_writer_destroy(writer);
    enum us_status status = us_smf_read(&back, bytes, size, "back", NULL);
    free(bytes);
    if (status) {
        FUZZ_CHECK(smf->count &&
                   smf->events[smf->count - 1].tick > 1000000); /* too long in time, nothing else */
        return;
    }
    for (size_t i = 0; i < back.count; i++)
        notes_back += (back.events[i].status & 0xF0) == US_MIDI_NOTE_ON;
    FUZZ_CHECK(notes == notes_back);
    us_smf_finish(&back);
}

static void check_tune(const uint8_t *data, size_t size)
{
    struct us_tune_file file;
    struct us_error error = {0};
    if (us_smf_tune(data, size, "x.mid", &file, &error)) {
        check_line(&error);
        FUZZ_CHECK(!file.notes && !file.title);
        return;
    }
    const struct us_tune *tune = &file.tune;
    FUZZ_CHECK(tune->note_count > 0);
    for (size_t i = 0; i < tune->note_count; i++) {
        const struct us_note *note = &tune->notes[i];
        FUZZ_CHECK(note->len > 0 && note->at >= 0 && note->pitch >= 0 && note->pitch < 128);
        FUZZ_CHECK(!i || (note->at > note[-1].at && note[-1].at + note[-1].len <= note->at + 1e-6));
    }
    us_tune_file_finish(&file);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct us_smf smf;
    struct us_error error = {0};
    if (us_smf_read(&smf, data, size, "x.mid", &error)) {
        check_line(&error);
        return 0;
    }
    check_events(&smf, data, size);
    check_written(&smf);
    us_smf_finish(&smf);
    check_tune(data, size);
    return 0;
}
