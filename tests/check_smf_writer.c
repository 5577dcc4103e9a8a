#include "support.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "undersong/smf_writer.h"

static void note(struct us_smf_writer *writer, int track, int64_t tick, int status, int pitch, int velocity)
{
    us_smf_writer_message(writer, track, tick,
                          (struct us_midi_message){(uint8_t)status, (uint8_t)pitch, (uint8_t)velocity});
}

static void read_back(struct us_smf_writer *writer, struct us_smf *smf)
{
    uint8_t *bytes;
    size_t size;
    struct us_error error = {0};
    ck_assert_int_eq(us_smf_writer_bytes(writer, &bytes, &size, &error), US_STATUS_OK);
    enum us_status status = us_smf_read(smf, bytes, size, "written", &error);
    ck_assert_msg(status == US_STATUS_OK, "%s", error.text);
    free(bytes);
}

START_TEST(writer_bytes_by_the_standard)
{
    static const uint8_t WANTED[] = "MThd\0\0\0\6\0\1\0\2\0\x60"
                                    "MTrk\0\0\0\x13\0\xFF\x51\3\7\xA1\x20\0\xFF\x58\4\6\3\x24\x08\0\xFF\x2F\0"
                                    "MTrk\0\0\0\x14\0\xFF\3\3Mel\0\x90\x3C\x40\x81\x40\x80\x3C\x40\0\xFF\x2F";
    struct us_smf_writer *writer = us_smf_writer_create(96);
    us_smf_writer_tempo(writer, 0, 500000);
    us_smf_writer_metre(writer, 0, (struct us_metre){6, 8});
    int track = us_smf_writer_track(writer, "Mel");
    note(writer, track, 0, 0x90, 60, 64);
    note(writer, track, 192, 0x80, 60, 64);
    uint8_t *bytes;
    size_t size;
    ck_assert_int_eq(us_smf_writer_bytes(writer, &bytes, &size, NULL), US_STATUS_OK);
    ck_assert_uint_eq(size, sizeof WANTED);
    ck_assert_mem_eq(bytes, WANTED, size);
    free(bytes);
    us_smf_writer_destroy(writer);
}
END_TEST

START_TEST(writer_sorts)
{
    static const int STATUSES[] = {0x90, 0x80, 0xB0, 0x90, 0x90, 0x80}, PITCHES[] = {60, 60, 64, 60, 62, 62};
    struct us_smf_writer *writer = us_smf_writer_create(480);
    int track = us_smf_writer_track(writer, "");
    note(writer, track, 10, 0x90, 60, 80); /* struck again at the tick at which it ends */
    note(writer, track, 10, 0xB0, 64, 127);
    note(writer, track, 10, 0x80, 60, 64);
    note(writer, track, 10, 0x90, 62, 80); /* begins and ends at one tick */
    note(writer, track, 10, 0x80, 62, 64);
    note(writer, track, 0, 0x90, 60, 80);
    for (int again = 0; again < 2; again++) {
        struct us_smf smf;
        read_back(writer, &smf);
        for (size_t i = 0; i < 6; i++) {
            ck_assert_int_eq(smf.events[i + 1].status, STATUSES[i]); /* 0 is the end of the first track */
            ck_assert_int_eq(smf.events[i + 1].data1, PITCHES[i]);
        }
        us_smf_finish(&smf);
    }
    us_smf_writer_destroy(writer);
}
END_TEST

/* What was given about one key at one tick stays in its order, also after notes that began and ended at once:
   each row is what happens at ticks 0, 10 and 20 (+ on, - off). */
START_TEST(writer_keeps_the_order_of_a_key)
{
    static const char *const GIVEN[] = {"+|-+-|", "+-|+|-+-", "+-+|-|", "+-+-|+-+|-+-"};
    for (size_t g = 0; g < sizeof GIVEN / sizeof *GIVEN; g++) {
        struct us_smf_writer *writer = us_smf_writer_create(480);
        struct us_smf smf;
        char expected[32] = "", found[32] = "";
        int tick = 0;
        for (const char *at = GIVEN[g]; *at; at++) {
            if (*at == '|')
                tick += 10;
            else
                note(writer, 0, tick, *at == '+' ? 0x91 : 0x81, 48, 64);
            if (*at != '|') strncat(expected, at, 1);
        }
        read_back(writer, &smf);
        for (size_t i = 0; i < smf.count; i++)
            if (smf.events[i].data1 == 48) strcat(found, smf.events[i].status == 0x91 ? "+" : "-");
        ck_assert_str_eq(found, expected);
        us_smf_finish(&smf);
        us_smf_writer_destroy(writer);
    }
}
END_TEST

START_TEST(writer_signatures_read_back)
{
    for (int mode = 0; mode < US_MODES; mode++)
        for (int tonic = 0; tonic < 12; tonic++) {
            struct us_key key = {(int8_t)tonic, (uint8_t)mode};
            struct us_smf_writer *writer = us_smf_writer_create(480);
            us_smf_writer_key(writer, 0, key);
            struct us_smf smf;
            read_back(writer, &smf);
            struct us_key got = us_smf_key(&smf.events[0]);
            ck_assert_int_eq(us_key_signature(got), us_key_signature(key));
            if (mode <= US_MODE_MINOR) ck_assert(us_key_equal(got, key));
            ck_assert_uint_eq(smf.count, mode <= US_MODE_MINOR ? 2 : 3);
            us_smf_finish(&smf);
            us_smf_writer_destroy(writer);
        }
}
END_TEST

/* A tick of performed time is 0.52 ms: rounding moves nothing by more than half of that, at any hour. */
START_TEST(writer_performed_time)
{
    for (int64_t at = 0; at < INT64_C(20000000000000); at = at * 2 + 123456789) {
        int64_t tick = us_smf_performed_tick(at);
        double back = (double)tick * 1e9 / 1920.0;
        ck_assert_double_eq_tol(back, (double)at, 260417 + 1);
    }
    ck_assert_int_eq(us_smf_performed_tick(-5), 0);
}
END_TEST

START_TEST(writer_bounds)
{
    struct us_smf_writer *writer = us_smf_writer_create(480);
    char text[600];
    memset(text, 'x', sizeof text - 1);
    text[sizeof text - 1] = 0;
    us_smf_writer_text(writer, 0, -7, US_SMF_TEXT, text);
    note(writer, 99, INT64_C(1) << 40, 0x90, 60, 80);
    note(writer, 0, 0, 0xF0, 1, 2);
    for (int i = 0; i < 30; i++)
        ck_assert_int_lt(us_smf_writer_track(writer, "t"), US_SMF_TRACKS_MAX);
    struct us_smf smf;
    read_back(writer, &smf);
    ck_assert_int_eq(smf.tracks, US_SMF_TRACKS_MAX);
    ck_assert_int_eq(smf.events[0].length, 255);
    us_smf_finish(&smf);
    us_smf_writer_destroy(writer);
    us_smf_writer_destroy(NULL);
}
END_TEST

START_TEST(writer_saves_whole_or_not_at_all)
{
    char folder[] = "/tmp/undersong-check-XXXXXX", path[64], link_path[64];
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/a.mid", folder);
    snprintf(link_path, sizeof link_path, "%s/link.mid", folder);
    struct us_smf_writer *writer = us_smf_writer_create(480);
    struct us_error error = {0};
    struct stat known;
    umask(022);
    ck_assert_int_eq(us_smf_writer_save(writer, path, 0600, &error), US_STATUS_OK);
    ck_assert(stat(path, &known) == 0 && (known.st_mode & 07777) == 0600);
    ck_assert_int_eq(symlink(path, link_path), 0);
    ck_assert_int_eq(us_smf_writer_save(writer, link_path, 0666, &error), US_STATUS_OK);
    ck_assert(stat(path, &known) == 0 && (known.st_mode & 07777) == 0600); /* it was private */
    ck_assert(chmod(path, 0666) == 0 && us_smf_writer_save(writer, link_path, 0666, &error) == US_STATUS_OK);
    ck_assert(stat(path, &known) == 0 && (known.st_mode & 07777) == 0644);
    ck_assert(lstat(link_path, &known) == 0 && S_ISLNK(known.st_mode));
    struct us_smf smf;
    ck_assert_int_eq(us_smf_load(&smf, path, &error), US_STATUS_OK);
    us_smf_finish(&smf);
    ck_assert_int_eq(us_smf_writer_save(writer, "/dev/full", 0666, &error), US_STATUS_IO);
    ck_assert_ptr_nonnull(strstr(error.text, "/dev/full"));
    ck_assert_int_eq(us_smf_writer_save(writer, "/no/such/folder/a.mid", 0666, &error), US_STATUS_IO);
    us_smf_writer_destroy(writer);
    ck_assert(unlink(link_path) == 0 && unlink(path) == 0);
    ck_assert_int_eq(rmdir(folder), 0); /* nothing else was left in it */
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {writer_bytes_by_the_standard,    writer_sorts,
                                  writer_keeps_the_order_of_a_key, writer_signatures_read_back,
                                  writer_performed_time,           writer_bounds,
                                  writer_saves_whole_or_not_at_all};
    return RUN_TESTS("smf_writer", TESTS);
}
