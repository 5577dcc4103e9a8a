#include "undersong/input.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SENSING_NS INT64_C(330000000) /* 300 ms, with room for a 30 ms tolerance of the sender's clock */

void us_input_init(struct us_input *input)
{
    *input = (struct us_input){.channel = -1};
}

static bool parse_number(const char *text, size_t length, int *out)
{
    if (length < 1 || length > 3 || strspn(text, "0123456789") < length) return false;
    *out = atoi(text);
    return *out < US_PITCHES;
}

/* A note name with its octave, C4 being middle C, or a MIDI note number. */
static bool parse_pitch(const char *text, size_t length, int *out)
{
    static const char LETTERS[] = "C D EF G A B";
    const char *at = length ? strchr(LETTERS, text[0]) : NULL;
    if (!at || text[0] == ' ') return parse_number(text, length, out);
    int pitch = (int)(at - LETTERS);
    size_t i = 1;
    if (i < length && (text[i] == '#' || text[i] == 'b')) pitch += text[i++] == '#' ? 1 : -1;
    bool below = i < length && text[i] == '-';
    if (below) i++;
    if (i + 1 != length || text[i] < '0' || text[i] > '9') return false;
    int octave = below ? '0' - text[i] : text[i] - '0';
    *out = pitch + 12 * (octave + 1);
    return *out >= 0 && *out < US_PITCHES;
}

static bool parse_what(const char *text, size_t length, struct us_switch *s)
{
    static const struct {
        const char *name;
        uint8_t control;
        int8_t value;
    } ROWS[] = {
        {"texture", US_CONTROL_NEXT_TEXTURE, 0},
        {"lock", US_CONTROL_KEY_LOCK, 2},
        {"left", US_CONTROL_LEFT_HAND, 2},
        {"tap", US_CONTROL_TAP, 0},
        {"panic", 0, 0},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        if (strlen(ROWS[i].name) == length && strncmp(ROWS[i].name, text, length) == 0) {
            s->control = ROWS[i].control;
            s->value = ROWS[i].value;
            s->is_panic = strcmp(ROWS[i].name, "panic") == 0;
            return true;
        }
    return false;
}

static bool parse_switch(const char *text, size_t length, struct us_switch *s)
{
    const char *equals = memchr(text, '=', length);
    size_t left = equals ? (size_t)(equals - text) : length;
    int number;
    *s = (struct us_switch){.is_key = !(left > 2 && text[0] == 'c' && text[1] == 'c')};
    if (s->is_key ? !parse_pitch(text, left, &number) : !parse_number(text + 2, left - 2, &number))
        return false;
    s->number = (uint8_t)number;
    return equals ? parse_what(equals + 1, length - left - 1, s) : parse_what("texture", 7, s);
}

enum us_status us_input_switches(struct us_input *input, const char *text, struct us_error *error)
{
    for (;;) {
        size_t length = strcspn(text, ",");
        if (input->switch_count == US_SWITCHES_MAX)
            return us_error_set(error, US_STATUS_BAD_INPUT, "too many switches; at most %d", US_SWITCHES_MAX);
        if (!parse_switch(text, length, &input->switches[input->switch_count]))
            return us_error_set(
                error, US_STATUS_BAD_INPUT,
                "%.40s: not a switch; write KEY=WHAT or ccNUMBER=WHAT, as in cc67=texture or A0=lock; "
                "WHAT is texture, lock, left, tap or panic",
                text);
        input->switch_count++;
        if (!text[length]) return US_STATUS_OK;
        text += length + 1;
    }
}

enum us_status us_input_channel(struct us_input *input, const char *text, struct us_error *error)
{
    int number;
    if (strcmp(text, "auto") == 0) {
        input->channel = -1;
        return US_STATUS_OK;
    }
    if (!parse_number(text, strlen(text), &number) || number < 1 || number > 16)
        return us_error_set(error, US_STATUS_BAD_INPUT, "%.40s: not a MIDI channel; give 1 to 16 or auto",
                            text);
    input->channel = (int8_t)(number - 1);
    return US_STATUS_OK;
}

static bool fill(struct us_event *event, uint8_t kind, struct us_midi_message m)
{
    event->kind = kind;
    event->pitch = m.data1;
    event->velocity = m.data2;
    return true;
}

static bool press(const struct us_switch *s, struct us_event *event)
{
    event->kind = s->is_panic ? US_EVENT_PANIC : US_EVENT_CONTROL;
    event->control = s->control;
    event->value = s->value;
    return true;
}

/* The switch that the message moves, or NULL; `*now` says whether it has just been pressed. */
static const struct us_switch *find_switch(struct us_input *input, struct us_midi_message m, uint8_t type,
                                           bool *now)
{
    for (int i = 0; i < input->switch_count; i++) {
        const struct us_switch *s = &input->switches[i];
        bool is_note = type == US_MIDI_NOTE_ON || type == US_MIDI_NOTE_OFF;
        if (s->number != m.data1 || (s->is_key ? !is_note : type != US_MIDI_CONTROL)) continue;
        bool down = s->is_key ? type == US_MIDI_NOTE_ON && m.data2 > 0 : m.data2 >= 64;
        *now = down && !input->pressed[i];
        input->pressed[i] = down;
        return s;
    }
    return NULL;
}

bool us_input_message(struct us_input *input, struct us_midi_message m, int64_t now_ns,
                      struct us_event *event)
{
    *event = (struct us_event){.at_ns = now_ns};
    input->heard_ns = now_ns;
    if (m.status == US_MIDI_ACTIVE_SENSING) input->sensed = true;
    if (m.status < US_MIDI_NOTE_OFF || m.status >= US_MIDI_SYSEX) return false;
    if (input->channel >= 0 && (m.status & 15) != input->channel) return false;
    uint8_t type = m.status & 0xF0;
    bool now = false;
    const struct us_switch *s = find_switch(input, m, type, &now);
    if (s) return now && press(s, event);
    switch (type) {
    case US_MIDI_NOTE_ON: return fill(event, m.data2 ? US_EVENT_NOTE_ON : US_EVENT_NOTE_OFF, m);
    case US_MIDI_NOTE_OFF: return fill(event, US_EVENT_NOTE_OFF, m);
    case US_MIDI_CONTROL:
        if (m.data1 == 120 || m.data1 == 123) return fill(event, US_EVENT_PANIC, m);
        if (m.data1 != 64) return false;
        event->value = m.data2;
        return fill(event, US_EVENT_PEDAL, m);
    default: return false;
    }
}

bool us_input_lost(struct us_input *input, int64_t now_ns)
{
    if (!input->sensed || now_ns - input->heard_ns <= SENSING_NS) return false;
    us_input_gone(input);
    return true;
}

void us_input_gone(struct us_input *input)
{
    input->sensed = false;
    memset(input->pressed, 0, sizeof input->pressed);
}

int64_t us_input_due(const struct us_input *input)
{
    return input->sensed ? input->heard_ns + SENSING_NS + 1 : INT64_MAX;
}
