/* Reads, writes and records MIDI files for the tests that compare with other programs.
     smf_tool dump FILE      one line an event: tick ns track status data1 data2 bytes
     smf_tool write FILE     events as such lines, without ns, from standard input; `D ticks` first, `T` a
   track smf_tool record FILE    plays a note a millisecond into the recorder until it is killed; prints each
   number */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "undersong/recorder.h"
#include "undersong/smf_writer.h"

static int dump(const char *path)
{
    struct us_smf smf;
    struct us_error error;
    enum us_status status = us_smf_load(&smf, path, &error);
    if (status) {
        fprintf(stderr, "%s\n", error.text);
        return us_status_exit_code(status);
    }
    printf("format %d tracks %d division %d\n", smf.format, smf.tracks, smf.ticks_per_quarter);
    for (size_t i = 0; i < smf.count; i++) {
        const struct us_smf_event *e = &smf.events[i];
        printf("%lld %lld %u %02x %u %u ", (long long)e->tick, (long long)e->at_ns, e->track, e->status,
               e->data1, e->data2);
        for (uint32_t b = 0; b < e->length; b++)
            printf("%02x", e->data[b]);
        printf(".\n");
    }
    us_smf_finish(&smf);
    return 0;
}

static void write_line(struct us_smf_writer *writer, char *line)
{
    long long tick;
    unsigned track, status, data1, data2;
    int at = 0;
    if (sscanf(line, "%lld %u %x %u %u %n", &tick, &track, &status, &data1, &data2, &at) < 5) return;
    if (status < 0xF0) {
        us_smf_writer_message(writer, (int)track, tick,
                              (struct us_midi_message){(uint8_t)status, (uint8_t)data1, (uint8_t)data2});
        return;
    }
    uint8_t data[256];
    size_t length = 0;
    for (unsigned byte; length < sizeof data && sscanf(line + at, "%2x", &byte) == 1; at += 2)
        data[length++] = (uint8_t)byte;
    us_smf_writer_meta(writer, (int)track, tick, (uint8_t)data1, data, length);
}

static int write_file(const char *path)
{
    char line[1024];
    struct us_smf_writer *writer = NULL;
    struct us_error error = {0};
    while (fgets(line, sizeof line, stdin)) {
        if (*line == 'D')
            writer = us_smf_writer_create(atoi(line + 1));
        else if (*line == 'T')
            us_smf_writer_track(writer, "");
        else
            write_line(writer, line);
    }
    enum us_status status = us_smf_writer_save(writer, path, 0666, &error);
    if (status) fprintf(stderr, "%s\n", error.text);
    us_smf_writer_destroy(writer);
    return us_status_exit_code(status);
}

enum { HELD = 20 }; /* milliseconds, or notes */

static int record(const char *path)
{
    struct us_recorder *recorder;
    struct us_recorder_settings settings = {.path = path};
    struct us_error error;
    if (us_recorder_open(&recorder, &settings, &error)) {
        fprintf(stderr, "%s\n", error.text);
        return 1;
    }
    for (int i = 0; i < 100000; i++) {
        struct us_action action = {.at_ns = i * INT64_C(1000000), .velocity = 80};
        for (int ended = i - HELD; ended <= i; ended += HELD) {
            action.kind = ended < i ? US_ACTION_NOTE_OFF : US_ACTION_NOTE_ON;
            action.voice = (uint8_t)((ended + 3 * HELD) % 3);
            action.pitch = (uint8_t)(36 + (ended + 50 * HELD) % 50);
            if (ended >= 0) us_recorder_action(recorder, &action);
        }
        printf("%d\n", i + 1);
        fflush(stdout);
        nanosleep(&(struct timespec){0, 1000000}, NULL);
    }
    return us_recorder_close(recorder, &error) ? 1 : 0;
}

int main(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "dump") == 0) return dump(argv[2]);
    if (argc == 3 && strcmp(argv[1], "write") == 0) return write_file(argv[2]);
    if (argc == 3 && strcmp(argv[1], "record") == 0) return record(argv[2]);
    return 2;
}
