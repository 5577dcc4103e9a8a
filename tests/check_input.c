#include "support.h"

#include "undersong/input.h"

#include <string.h>

static struct us_midi_message msg(int status, int data1, int data2)
{
    return (struct us_midi_message){(uint8_t)status, (uint8_t)data1, (uint8_t)data2};
}

/* MIDI 1.0, from memory: channel messages on channel 3, and what they mean here. */
START_TEST(messages)
{
    static const struct {
        int status, data1, data2, channel;
        int kind; /* -1: nothing */
        int value;
    } ROWS[] = {
        {0x92, 60, 100, -1, US_EVENT_NOTE_ON, 0},
        {0x92, 60, 0, -1, US_EVENT_NOTE_OFF, 0},
        {0x82, 60, 64, -1, US_EVENT_NOTE_OFF, 0},
        {0x92, 60, 100, 2, US_EVENT_NOTE_ON, 0},
        {0x92, 60, 100, 3, -1, 0},
        {0xB2, 64, 127, -1, US_EVENT_PEDAL, 127},
        {0xB2, 64, 0, -1, US_EVENT_PEDAL, 0},
        {0xB2, 123, 0, -1, US_EVENT_PANIC, 0},
        {0xB2, 120, 0, -1, US_EVENT_PANIC, 0},
        {0xB2, 7, 100, -1, -1, 0},
        {0xE2, 0, 64, -1, -1, 0},
        {0xC2, 5, 0, -1, -1, 0},
        {0xF8, 0, 0, -1, -1, 0},
        {0xF2, 1, 2, -1, -1, 0},
        {0xFE, 0, 0, 5, -1, 0},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_input input;
        struct us_event e;
        us_input_init(&input);
        input.channel = (int8_t)ROWS[i].channel;
        bool got = us_input_message(&input, msg(ROWS[i].status, ROWS[i].data1, ROWS[i].data2), 42, &e);
        ck_assert_msg(got == (ROWS[i].kind >= 0), "row %zu", i);
        if (!got) continue;
        ck_assert_int_eq(e.kind, ROWS[i].kind);
        ck_assert_int_eq(e.at_ns, 42);
        if (e.kind <= US_EVENT_NOTE_OFF) ck_assert_int_eq(e.pitch, 60);
        if (e.kind == US_EVENT_PEDAL) ck_assert_int_eq(e.value, ROWS[i].value);
    }
}
END_TEST

START_TEST(switches)
{
    struct us_input input;
    struct us_event e;
    struct us_error error;
    us_input_init(&input);
    ck_assert_int_eq(us_input_switches(&input, "cc67,A0=lock,C8=panic,22=left,C#-1=tap", &error),
                     US_STATUS_OK);
    ck_assert_int_eq(input.switch_count, 5);
    ck_assert(us_input_message(&input, msg(0xB0, 67, 127), 0, &e)); /* the soft pedal */
    ck_assert(e.kind == US_EVENT_CONTROL && e.control == US_CONTROL_NEXT_TEXTURE);
    ck_assert(!us_input_message(&input, msg(0xB0, 67, 100), 0, &e)); /* still held: once only */
    ck_assert(!us_input_message(&input, msg(0xB0, 67, 0), 0, &e));
    ck_assert(us_input_message(&input, msg(0xB0, 67, 64), 0, &e));
    ck_assert(us_input_message(&input, msg(0x90, 21, 5), 0, &e)); /* A0, the lowest key of a piano */
    ck_assert(e.kind == US_EVENT_CONTROL && e.control == US_CONTROL_KEY_LOCK && e.value == 2);
    ck_assert(!us_input_message(&input, msg(0x80, 21, 5), 0, &e)); /* and it does not sound */
    ck_assert(us_input_message(&input, msg(0x90, 108, 5), 0, &e));
    ck_assert_int_eq(e.kind, US_EVENT_PANIC);
    ck_assert(us_input_message(&input, msg(0x90, 22, 5), 0, &e));
    ck_assert_int_eq(e.control, US_CONTROL_LEFT_HAND);
    ck_assert(us_input_message(&input, msg(0x90, 1, 5), 0, &e));
    ck_assert_int_eq(e.control, US_CONTROL_TAP);
}
END_TEST

START_TEST(wrong_switches)
{
    static const char *const ROWS[] = {"H3",    "cc",    "cc128", "C4=dance", "",    "C4,,D4",      "C12",
                                       "cc64=", "=lock", "C",     "C-2",      "C 4", "C2147483647", "C--1"};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_input input;
        struct us_error error;
        us_input_init(&input);
        ck_assert_msg(us_input_switches(&input, ROWS[i], &error) == US_STATUS_BAD_INPUT, "%s", ROWS[i]);
    }
    struct us_input input;
    struct us_error error;
    us_input_init(&input);
    ck_assert_int_eq(us_input_channel(&input, "17", &error), US_STATUS_BAD_INPUT);
    ck_assert_int_eq(us_input_channel(&input, "0", &error), US_STATUS_BAD_INPUT);
    ck_assert_int_eq(us_input_channel(&input, "16", &error), US_STATUS_OK);
    ck_assert_int_eq(input.channel, 15);
}
END_TEST

/* MIDI 1.0, active sensing, from memory: after the first FE, more than 300 ms of silence means a lost line;
   without any FE, silence means nothing. */
START_TEST(active_sensing)
{
    struct us_input input;
    struct us_event e;
    const int64_t MS = 1000000;
    us_input_init(&input);
    us_input_message(&input, msg(0x90, 60, 100), 0, &e);
    ck_assert(!us_input_lost(&input, 10000 * MS));
    ck_assert_int_eq(us_input_due(&input), INT64_MAX);
    us_input_message(&input, msg(0xFE, 0, 0), 20000 * MS, &e);
    ck_assert(!us_input_lost(&input, 20300 * MS));
    us_input_message(&input, msg(0x90, 62, 100), 20300 * MS, &e); /* any message will do */
    ck_assert(!us_input_lost(&input, 20600 * MS));
    int64_t due = us_input_due(&input);
    ck_assert(due > 20600 * MS && due <= 20700 * MS); /* soon after */
    ck_assert(!us_input_lost(&input, due - 1));
    ck_assert(us_input_lost(&input, due));
    ck_assert_int_eq(us_input_due(&input), INT64_MAX);
    ck_assert(!us_input_lost(&input, 30000 * MS)); /* said once */
}
END_TEST

/* After it was unplugged its silence is not waited for, which would be a wait without sleep; and a pedal that
   was down then switches again at its first press. */
START_TEST(unplugged)
{
    struct us_input input;
    struct us_event e;
    struct us_error error;
    us_input_init(&input);
    ck_assert_int_eq(us_input_switches(&input, "cc67=texture", &error), US_STATUS_OK);
    us_input_message(&input, msg(0xFE, 0, 0), 1000, &e);
    ck_assert(us_input_message(&input, msg(0xB0, 67, 127), 2000, &e));
    ck_assert(!us_input_message(&input, msg(0xB0, 67, 127), 3000, &e));
    us_input_gone(&input);
    ck_assert_int_eq(us_input_due(&input), INT64_MAX);
    ck_assert(!us_input_lost(&input, INT64_C(10000000000)));
    ck_assert(us_input_message(&input, msg(0xB0, 67, 127), INT64_C(10000000000), &e));
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {messages, switches, wrong_switches, active_sensing, unplugged};
    return RUN_TESTS("input", TESTS);
}
