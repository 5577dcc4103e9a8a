#include "support.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "undersong/midi_bytes.h"

/* Feeds bytes written as hexadecimal and writes what comes out as hexadecimal, messages separated by blanks.
 */
static void parse(const char *hex, char *out, size_t size)
{
    struct us_midi_parser parser = {0};
    struct us_midi_message m;
    *out = 0;
    for (char *at; *hex; hex = at) {
        uint8_t byte = (uint8_t)strtoul(hex, &at, 16);
        if (!us_midi_parser_byte(&parser, byte, &m)) continue;
        size_t length = us_midi_message_length(m.status), used = strlen(out);
        const uint8_t bytes[3] = {m.status, m.data1, m.data2};
        if (used) used += (size_t)snprintf(out + used, size - used, " ");
        for (size_t i = 0; i < length; i++)
            used += (size_t)snprintf(out + used, size - used, "%02x", bytes[i]);
    }
}

/* Status bytes, running status, real-time bytes, SysEx and undefined bytes: MIDI 1.0 Detailed
   Specification 4.2, "Running Status", "System Real Time Messages", "System Common Messages" and its tables I
   to V, from memory. */
START_TEST(midi_bytes_tables)
{
    static const struct {
        const char *what, *bytes, *messages;
    } ROWS[] = {
        {"each channel message", "80 3c 40 91 3c 01 a2 3c 7f b3 40 7f c4 05 d5 10 e6 00 40",
         "803c40 913c01 a23c7f b3407f c405 d510 e60040"},
        {"running status", "90 3c 40 3e 41 40 42", "903c40 903e41 904042"},
        {"running status, one data byte", "c0 01 02 03", "c001 c002 c003"},
        {"note-on of velocity 0", "90 3c 40 3c 00", "903c40 803c40"},
        {"real-time inside a message", "90 f8 3c fe 40", "f8 fe 903c40"},
        {"real-time keeps running status", "90 3c 40 fa 3e 40", "903c40 fa 903e40"},
        {"system common", "f1 23 f2 01 02 f3 04 f6", "f123 f20102 f304 f6"},
        {"system common cancels running status", "90 3c 40 f6 3e 40", "903c40 f6"},
        {"song select has no running status", "f3 04 05 06", "f304"},
        {"SysEx skipped", "f0 7e 7f 09 01 f7 90 3c 40", "903c40"},
        {"SysEx cancels running status", "90 3c 40 f0 01 f7 3e 40", "903c40"},
        {"real-time inside SysEx", "f0 01 f8 02 f7 90 3c 40", "f8 903c40"},
        {"SysEx ended by a status byte", "f0 01 02 90 3c 40", "903c40"},
        {"undefined real-time ignored", "90 f9 3c fd 40 3e 40", "903c40 903e40"},
        {"undefined common cancels", "90 3c 40 f4 3e 40 f5 90 3e 40", "903c40 903e40"},
        {"data without status", "3c 40 90 3c 40", "903c40"},
        {"a message cut short by another", "90 3c 80 3c 40", "803c40"},
        {"a stray end of SysEx", "90 3c 40 f7 3e 40", "903c40"},
        {"tune request inside a message", "90 3c f6 40 90 3e 40", "f6 903e40"},
        {"reset", "ff", "ff"},
    };
    char got[256];
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        parse(ROWS[i].bytes, got, sizeof got);
        ck_assert_msg(strcmp(got, ROWS[i].messages) == 0, "%s: %s", ROWS[i].what, got);
    }
}
END_TEST

START_TEST(midi_bytes_encoder_running_status)
{
    static const struct us_midi_message MESSAGES[] = {
        {0x90, 60, 80}, {0x90, 64, 80}, {0x80, 60, 64}, {0x80, 64, 30}, {0xF8, 0, 0},
        {0x80, 67, 30}, {0xB0, 123, 0}, {0xF6, 0, 0},   {0xB0, 123, 0}, {0xC1, 5, 0},
        {0xF0, 1, 2},   {0x42, 1, 2},   {0xC1, 6, 0},   {0xF4, 0, 0},   {0xE0, 255, 128}};
    static const uint8_t WIRE[] = {0x90, 60,  80, 64,   80,   60,  0, 0x80, 64, 30, 0xF8, 67,  30,
                                   0xB0, 123, 0,  0xF6, 0xB0, 123, 0, 0xC1, 5,  6,  0xE0, 127, 0};
    struct us_midi_encoder encoder = {0};
    uint8_t wire[64];
    size_t length = 0;
    for (size_t i = 0; i < sizeof MESSAGES / sizeof *MESSAGES; i++)
        length += us_midi_encode(&encoder, MESSAGES[i], wire + length);
    ck_assert_uint_eq(length, sizeof WIRE);
    ck_assert_mem_eq(wire, WIRE, length);
}
END_TEST

START_TEST(midi_bytes_encoder_whole_messages)
{
    uint8_t wire[3];
    ck_assert_uint_eq(us_midi_encode(NULL, (struct us_midi_message){0x80, 60, 64}, wire), 3);
    ck_assert_mem_eq(wire, "\x80\x3c\x40", 3);
    ck_assert_uint_eq(us_midi_encode(NULL, (struct us_midi_message){0xD3, 9, 0}, wire), 2);
    ck_assert_uint_eq(us_midi_encode(NULL, (struct us_midi_message){0xF7, 0, 0}, wire), 0);
}
END_TEST

/* Whatever is sent comes back, with running status and without, real-time messages thrown in between bytes.
 */
START_TEST(midi_bytes_round_trip)
{
    unsigned random = 1;
    struct us_midi_encoder encoder = {0};
    struct us_midi_parser parser = {0};
    for (int i = 0; i < 20000; i++) {
        random = random * 1103515245u + 12345u;
        struct us_midi_message sent = {(uint8_t)(0x80 | (random >> 16 & 0x7F)), random >> 8 & 0x7F,
                                       random & 0x7F},
                               got;
        size_t length = us_midi_message_length(sent.status);
        if (!length) continue;
        if (length < 3) sent.data2 = 0;
        if (length < 2) sent.data1 = 0;
        if ((sent.status & 0xF0) == 0x90 && !sent.data2) continue;
        uint8_t wire[3];
        size_t bytes = us_midi_encode(i & 1 ? &encoder : NULL, sent, wire);
        if (!(i & 1)) encoder.status = 0; /* the other encoder has changed the wire's state */
        for (size_t b = 0; b < bytes; b++) {
            ck_assert(us_midi_parser_byte(&parser, wire[b], &got) == (b + 1 == bytes));
            if (b + 1 == bytes) break;
            struct us_midi_message clock;
            ck_assert(us_midi_parser_byte(&parser, 0xF8, &clock) && clock.status == 0xF8);
        }
        ck_assert(got.status == sent.status && got.data1 == sent.data1 && got.data2 == sent.data2);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {midi_bytes_tables, midi_bytes_encoder_running_status,
                                  midi_bytes_encoder_whole_messages, midi_bytes_round_trip};
    return RUN_TESTS("midi_bytes", TESTS);
}
