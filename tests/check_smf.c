#include "support.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "undersong/smf.h"

enum { FILE_MAX = 4096 };

/* Bytes written as hexadecimal and as 'text'. */
static size_t bytes_of(const char *text, uint8_t *out)
{
    size_t count = 0;
    while (*text) {
        if (*text == ' ') {
            text++;
        } else if (*text == '\'') {
            for (text++; *text != '\''; text++)
                out[count++] = (uint8_t)*text;
            text++;
        } else {
            char *end;
            out[count++] = (uint8_t)strtoul(text, &end, 16);
            text = end;
        }
    }
    return count;
}

static enum us_status read_hex(const char *text, struct us_smf *smf, struct us_error *error)
{
    uint8_t bytes[FILE_MAX];
    size_t size = bytes_of(text, bytes);
    return us_smf_read(smf, bytes, size, "tune.mid", error);
}

static void read_good(const char *text, struct us_smf *smf)
{
    struct us_error error = {0};
    enum us_status status = read_hex(text, smf, &error);
    ck_assert_msg(status == US_STATUS_OK, "%s", error.text);
}

#define HEAD(format, tracks) "'MThd' 0 0 0 6 0 " #format " 0 " #tracks " 0 60 " /* 96 ticks a quarter */
#define EOT "00 FF 2F 00 "

/* The two examples at the end of the standard (RP-001, "Appendix: Program Fragments and Example MIDI Files"),
   from memory: the same four-note music as format 0 and as format 1. */
static const char EXAMPLE_0[] = HEAD(
    0, 1) "'MTrk' 0 0 0 3B 00 FF 58 04 04 02 18 08 00 FF 51 03 07 A1 20 00 C0 05 00 C1 2E 00 C2 46 "
          "00 92 30 60 00 3C 60 60 91 43 40 60 90 4C 20 81 40 82 30 40 00 3C 40 00 81 43 40 00 80 4C 40 " EOT;
static const char EXAMPLE_1[] =
    HEAD(1, 4) "'MTrk' 0 0 0 14 00 FF 58 04 04 02 18 08 00 FF 51 03 07 A1 20 83 00 FF 2F 00 "
               "'MTrk' 0 0 0 10 00 C0 05 81 40 90 4C 20 81 40 4C 00 00 FF 2F 00 "
               "'MTrk' 0 0 0 0F 00 C1 2E 60 91 43 40 82 20 43 00 00 FF 2F 00 "
               "'MTrk' 0 0 0 15 00 C2 46 00 92 30 60 00 3C 60 83 00 30 00 00 3C 00 00 FF 2F 00 ";

static void check_example(const char *text, int format, int tracks)
{
    static const struct {
        int status, pitch, tick;
    } NOTES[] = {{0x92, 0x30, 0},   {0x92, 0x3C, 0},   {0x91, 0x43, 96},  {0x90, 0x4C, 192},
                 {0x82, 0x30, 384}, {0x82, 0x3C, 384}, {0x81, 0x43, 384}, {0x80, 0x4C, 384}};
    struct us_smf smf;
    read_good(text, &smf);
    ck_assert_int_eq(smf.format, format);
    ck_assert_int_eq(smf.tracks, tracks);
    ck_assert_int_eq(smf.ticks_per_quarter, 96);
    ck_assert_int_eq(smf.end_ns, 2000000000);
    int found = 0;
    for (size_t i = 0; i < smf.count; i++)
        for (size_t n = 0; n < 8; n++) {
            const struct us_smf_event *e = &smf.events[i];
            if (e->status != NOTES[n].status || e->data1 != NOTES[n].pitch) continue;
            ck_assert_int_eq(e->tick, NOTES[n].tick);
            ck_assert_int_eq(e->at_ns, NOTES[n].tick * INT64_C(500000000) / 96);
            ck_assert_double_eq(e->at_quarters, NOTES[n].tick / 96.0);
            found++;
        }
    ck_assert_int_eq(found, 8);
    us_smf_finish(&smf);
}

START_TEST(smf_standard_examples)
{
    check_example(EXAMPLE_0, 0, 1);
    check_example(EXAMPLE_1, 1, 4);
}
END_TEST

/* "Variable-length quantities" of RP-001, its table; 0 to four bytes. */
START_TEST(smf_variable_length_table)
{
    static const struct {
        const char *bytes;
        int64_t value;
    } ROWS[] = {{"00", 0},
                {"40", 0x40},
                {"7F", 0x7F},
                {"81 00", 0x80},
                {"C0 00", 0x2000},
                {"FF 7F", 0x3FFF},
                {"81 80 00", 0x4000},
                {"C0 80 00", 0x100000},
                {"FF FF 7F", 0x1FFFFF},
                {"81 80 80 00", 0x200000},
                {"C0 80 80 00", 0x8000000},
                {"FF FF FF 7F", 0xFFFFFFF}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        uint8_t delta[8];
        char text[256];
        snprintf(text, sizeof text, HEAD(0, 1) "'MTrk' 0 0 0 %zx %s FF 2F 00",
                 bytes_of(ROWS[i].bytes, delta) + 3, ROWS[i].bytes);
        struct us_smf smf;
        read_good(text, &smf);
        ck_assert_int_eq(smf.events[0].tick, ROWS[i].value);
        us_smf_finish(&smf);
    }
}
END_TEST

/* Negative divisions: frames a second, ticks a frame; -29 is 30 drop-frame, 29.97 (RP-001, "Header Chunks").
 */
START_TEST(smf_time_code_division)
{
    static const struct {
        const char *division;
        int64_t ns;                             /* of 1000 ticks */
    } ROWS[] = {{"E8 50", INT64_C(520833333)},  /* 24 x 80 */
                {"E7 28", INT64_C(1000000000)}, /* 25 x 40: milliseconds, the standard's example */
                {"E3 64", INT64_C(333666667)},  /* 30,000/1,001 x 100 */
                {"E2 0A", INT64_C(3333333333)}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        char text[256];
        snprintf(text, sizeof text, "'MThd' 0 0 0 6 0 0 0 1 %s 'MTrk' 0 0 0 5 87 68 FF 2F 00",
                 ROWS[i].division);
        struct us_smf smf;
        read_good(text, &smf);
        ck_assert_int_eq(smf.ticks_per_quarter, 0);
        ck_assert_int_eq(smf.events[0].at_ns, ROWS[i].ns);
        ck_assert_double_eq_tol(smf.end_quarters, (double)ROWS[i].ns / 5e8, 1e-9);
        us_smf_finish(&smf);
    }
}
END_TEST

/* 60 a minute for two quarters, then 240: in track 2, which holds in all tracks of format 1. */
START_TEST(smf_tempo_map)
{
    struct us_smf smf;
    read_good(HEAD(1, 2) "'MTrk' 0 0 0 0D 00 90 3C 40 83 00 80 3C 40 " EOT
                         "'MTrk' 0 0 0 13 00 FF 51 03 0F 42 40 81 40 FF 51 03 03 D0 90 " EOT,
              &smf);
    const struct us_smf_event *last = &smf.events[smf.count - 2];
    ck_assert_int_eq(last->tick, 384);
    ck_assert_int_eq(last->at_ns, 2 * INT64_C(1000000000) + 2 * 250000000);
    ck_assert_double_eq(last->at_quarters, 4.0);
    us_smf_finish(&smf);
}
END_TEST

/* The patterns of format 2 are independent: one after the other, each with its own tempo. */
START_TEST(smf_format_2)
{
    struct us_smf smf;
    read_good(HEAD(2, 2) "'MTrk' 0 0 0 0B 00 FF 51 03 0F 42 40 60 FF 2F 00 "
                         "'MTrk' 0 0 0 0C 00 90 3C 40 60 80 3C 40 00 FF 2F 00 ",
              &smf);
    ck_assert_uint_eq(smf.count, 5);
    ck_assert_int_eq(smf.events[2].tick, 96);
    ck_assert_int_eq(smf.events[2].at_ns, 1000000000);
    ck_assert_int_eq(smf.events[3].at_ns, 1500000000);
    ck_assert_double_eq(smf.events[3].at_quarters, 2.0);
    us_smf_finish(&smf);
}
END_TEST

START_TEST(smf_meta_events)
{
    struct us_smf smf;
    read_good(HEAD(0, 1) "'MTrk' 0 0 0 2D 00 FF 03 04 'Tune' 00 FF 58 04 06 03 24 08 00 FF 59 02 FD 01 "
                         "00 FF 06 01 'V' 00 FF 01 03 'bar' 00 FF 51 03 0A 2C 2B " EOT,
              &smf);
    ck_assert(us_smf_is_meta(&smf.events[0], US_SMF_TRACK_NAME));
    ck_assert_uint_eq(smf.events[0].length, 4);
    ck_assert_mem_eq(smf.events[0].data, "Tune", 4);
    struct us_metre metre = us_smf_metre(&smf.events[1]);
    ck_assert(metre.top == 6 && metre.bottom == 8);
    ck_assert(us_key_equal(us_smf_key(&smf.events[2]), (struct us_key){0, US_MODE_MINOR})); /* three flats */
    ck_assert(us_smf_is_meta(&smf.events[3], US_SMF_MARKER) && smf.events[3].length == 1);
    ck_assert_uint_eq(smf.events[4].length, 3);
    ck_assert_mem_eq(smf.events[4].data, "bar", 3);
    ck_assert_uint_eq(us_smf_tempo_us(&smf.events[5]), 666667);
    us_smf_finish(&smf);
}
END_TEST

/* Key signatures of all keys: the circle of fifths. */
START_TEST(smf_key_signatures)
{
    for (int minor = 0; minor < 2; minor++)
        for (int sharps = -7; sharps <= 7; sharps++) {
            uint8_t data[2] = {(uint8_t)sharps, (uint8_t)minor};
            struct us_smf_event event = {
                .status = US_SMF_META_STATUS, .data1 = US_SMF_KEY, .data = data, .length = 2};
            struct us_key key = us_smf_key(&event);
            int signature = us_key_signature(key);
            ck_assert_int_eq(key.mode, minor ? US_MODE_MINOR : US_MODE_MAJOR);
            ck_assert_msg((signature - sharps) % 12 == 0, "%d gives %d", sharps, signature);
        }
}
END_TEST

START_TEST(smf_tolerates)
{
    static const struct {
        const char *what, *bytes;
        size_t events;
    } ROWS[] = {
        {"no end of track", HEAD(0, 1) "'MTrk' 0 0 0 8 00 90 3C 40 60 80 3C 40", 3},
        {"more tracks than promised", HEAD(1, 1) "'MTrk' 0 0 0 4 " EOT "'MTrk' 0 0 0 4 " EOT, 2},
        {"a longer header", "'MThd' 0 0 0 8 0 0 0 1 0 60 1 2 'MTrk' 0 0 0 4 " EOT, 1},
        {"an unknown chunk", HEAD(0, 1) "'XTra' 0 0 0 3 1 2 3 'MTrk' 0 0 0 4 " EOT, 1},
        {"bytes after the last track", HEAD(0, 1) "'MTrk' 0 0 0 4 " EOT "1 2 3", 1},
        {"a broken chunk after the last track", HEAD(0, 1) "'MTrk' 0 0 0 4 " EOT "'junk' FF FF FF FF 1", 1},
        {"a surplus track that breaks off", HEAD(0, 1) "'MTrk' 0 0 0 4 " EOT "'MTrk' 0 0 0 9 00 90 3C", 1},
        {"a surplus track of nonsense",
         HEAD(0, 1) "'MTrk' 0 0 0 4 " EOT "'MTrk' 0 0 0 8 00 90 3C 40 00 00 F8 00 'MTrk' 0 0 0 4 " EOT, 1},
        {"bytes after the end of track", HEAD(0, 1) "'MTrk' 0 0 0 7 " EOT "1 2 3", 1},
        {"SysEx in packets, escapes",
         HEAD(0, 1) "'MTrk' 0 0 0 12 00 F0 02 43 12 10 F7 02 43 F7 00 F7 01 F8 " EOT, 4},
        {"a meta event not known", HEAD(0, 1) "'MTrk' 0 0 0 9 00 FF 60 01 00 " EOT, 2},
        {"a track of no bytes", HEAD(0, 1) "'MTrk' 0 0 0 0", 1},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_smf smf;
        struct us_error error = {0};
        enum us_status status = read_hex(ROWS[i].bytes, &smf, &error);
        ck_assert_msg(status == US_STATUS_OK, "%s: %s", ROWS[i].what, error.text);
        ck_assert_msg(smf.count == ROWS[i].events, "%s: %zu", ROWS[i].what, smf.count);
        us_smf_finish(&smf);
    }
}
END_TEST

START_TEST(smf_refuses_with_place)
{
    static const struct {
        const char *bytes, *place, *what;
    } ROWS[] = {
        {"", "byte 0", "not a Standard MIDI File"},
        {"'RIFF' 0 0 0 0 0 0 0 0 0 0", "byte 0", "not a Standard MIDI File"},
        {"'MThd' 0 0 0 6", "byte 8", "ends within its header"},
        {"'MTh'", "byte 0", "not a Standard MIDI File"},
        {"'MThx' 0 0 0 6 0 0 0 1 0 60", "byte 0", "not a Standard MIDI File"},
        {"'MThd' 0 0 0 5 0 0 0 1 0 60 0", "byte 4", "header's length"},
        {"'MThd' FF FF FF FF 0 0 0 1 0 60 0", "byte 4", "header's length"},
        {"'MThd' 0 0 0 6 0 3 0 1 0 60", "byte 8", "format"},
        {"'MThd' 0 0 0 6 0 0 0 1 0 0", "byte 12", "division"},
        {"'MThd' 0 0 0 6 0 0 0 1 E6 10", "byte 12", "division"},
        {"'MThd' 0 0 0 6 0 0 0 1 E8 00", "byte 12", "division"},
        {HEAD(0, 1), "byte 14", "0 of 1 tracks"},
        {HEAD(1, 2) "'MTrk' 0 0 0 4 " EOT, "byte 26", "1 of 2 tracks"},
        {HEAD(0, 1) "'MTrk' 0 0 0 5 " EOT, "byte 14", "cut short"},
        {HEAD(0, 1) "'MTrk' FF FF FF FF " EOT, "byte 14", "cut short"},
        {HEAD(0, 1) "'MTrk' 0 0 0 1 00", "byte 23", "without its event"},
        {HEAD(0, 1) "'MTrk' 0 0 0 1 80", "byte 22", "ends inside a time"},
        {HEAD(0, 1) "'MTrk' 0 0 0 3 00 90 3C", "byte 23", "ends inside an event"},
        {HEAD(0, 1) "'MTrk' 0 0 0 7 00 3C 40 " EOT, "byte 23", "data byte"},
        {HEAD(0, 1) "'MTrk' 0 0 0 8 00 90 3C FF 2F 00 0 0", "byte 25", "inside another"},
        {HEAD(0, 1) "'MTrk' 0 0 0 0E 00 90 3C 40 00 FF 01 00 00 3C 00 00 FF 2F", "byte 31", "data byte"},
        {HEAD(0, 1) "'MTrk' 0 0 0 7 80 80 80 80 00 FF 2F", "byte 22", "more than four"},
        {HEAD(0, 1) "'MTrk' 0 0 0 6 00 FF 01 05 41 42", "byte 23", "longer than its track"},
        {HEAD(0, 1) "'MTrk' 0 0 0 7 00 F0 FF FF FF 7F 00", "byte 23", "longer than its track"},
        {HEAD(0, 1) "'MTrk' 0 0 0 7 00 FF 51 03 00 00 00", "byte 23", "tempo"},
        {HEAD(0, 1) "'MTrk' 0 0 0 6 00 FF 51 02 01 00", "byte 23", "tempo"},
        {HEAD(0, 1) "'MTrk' 0 0 0 5 00 FF 58 01 04", "byte 23", "time signature"},
        {HEAD(0, 1) "'MTrk' 0 0 0 5 00 FF 59 01 04", "byte 23", "key signature"},
        {HEAD(0, 1) "'MTrk' 0 0 0 2 00 F8", "byte 23", "no MIDI file"},
        {HEAD(0, 1) "'MTrk' 0 0 0 4 00 F2 01 02", "byte 23", "no MIDI file"},
        {"'MThd' 0 0 0 6 0 0 0 1 0 1 'MTrk' 0 0 0 0E 00 FF 51 03 FF FF FF FF FF FF 7F FF 2F 00", "byte 33",
         "hours"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_smf smf;
        struct us_error error = {0};
        ck_assert_msg(read_hex(ROWS[i].bytes, &smf, &error) == US_STATUS_BAD_INPUT, "%s", ROWS[i].bytes);
        ck_assert_int_eq(error.status, US_STATUS_BAD_INPUT);
        ck_assert_msg(strncmp(error.text, "tune.mid: byte ", 15) == 0, "%s", error.text);
        ck_assert_msg(strstr(error.text, ROWS[i].place) && strstr(error.text, ROWS[i].what), "%s: %s",
                      ROWS[i].what, error.text);
        ck_assert_msg(!strchr(error.text, '\n') && strchr(error.text, ';'), "%s", error.text);
        us_smf_finish(&smf);
    }
}
END_TEST

/* Cut anywhere, a file is refused, but where only bytes after the last event are lost. */
START_TEST(smf_truncated_anywhere)
{
    uint8_t bytes[FILE_MAX];
    size_t size = bytes_of(EXAMPLE_1, bytes);
    for (size_t cut = 0; cut < size; cut++) {
        struct us_smf smf;
        struct us_error error = {0};
        ck_assert_msg(us_smf_read(&smf, bytes, cut, "cut.mid", &error) == US_STATUS_BAD_INPUT, "%zu", cut);
    }
}
END_TEST

START_TEST(smf_files)
{
    struct us_smf smf;
    struct us_error error = {0};
    ck_assert_int_eq(us_smf_load(&smf, "no-such-file.mid", &error), US_STATUS_NOT_FOUND);
    ck_assert_ptr_nonnull(strstr(error.text, "no-such-file.mid"));
    ck_assert_int_eq(us_smf_load(&smf, "/", &error), US_STATUS_NOT_FOUND);
    ck_assert_ptr_nonnull(strstr(error.text, "folder"));
    ck_assert_int_eq(us_smf_load(&smf, "/dev/zero", &error), US_STATUS_BAD_INPUT);
    ck_assert_ptr_nonnull(strstr(error.text, "larger than"));
    us_smf_finish(&smf);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {smf_standard_examples,
                                  smf_variable_length_table,
                                  smf_time_code_division,
                                  smf_tempo_map,
                                  smf_format_2,
                                  smf_meta_events,
                                  smf_key_signatures,
                                  smf_tolerates,
                                  smf_refuses_with_place,
                                  smf_truncated_anywhere,
                                  smf_files};
    return RUN_TESTS("smf", TESTS);
}
