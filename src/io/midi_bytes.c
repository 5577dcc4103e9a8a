#include "undersong/midi_bytes.h"

size_t us_midi_message_length(uint8_t status)
{
    static const uint8_t CHANNEL[8] = {3, 3, 3, 3, 2, 2, 3, 0};
    static const uint8_t SYSTEM[16] = {0, 2, 3, 2, 0, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 1};
    if (status < 0x80) return 0;
    return status < 0xF0 ? CHANNEL[(status >> 4) & 7] : SYSTEM[status & 15];
}

static void deliver(struct us_midi_message *out, uint8_t status, uint8_t data1, uint8_t data2)
{
    *out = (struct us_midi_message){status, data1, data2};
    if ((status & 0xF0) == US_MIDI_NOTE_ON && data2 == 0) {
        out->status = (uint8_t)(US_MIDI_NOTE_OFF | (status & 0x0F));
        out->data2 = US_MIDI_RELEASE;
    }
}

static bool take_status(struct us_midi_parser *parser, uint8_t byte, struct us_midi_message *out)
{
    size_t length = us_midi_message_length(byte);
    if (byte >= 0xF8) { /* real-time: disturbs nothing, also where undefined */
        if (length) deliver(out, byte, 0, 0);
        return length != 0;
    }
    parser->in_sysex = byte == US_MIDI_SYSEX;
    parser->have = 0;
    parser->status = length >= 2 ? byte : 0;
    if (length == 1) deliver(out, byte, 0, 0);
    return length == 1;
}

static bool take_data(struct us_midi_parser *parser, uint8_t byte, struct us_midi_message *out)
{
    if (parser->in_sysex || !parser->status) return false;
    if (us_midi_message_length(parser->status) == 3 && parser->have == 0) {
        parser->data1 = byte;
        parser->have = 1;
        return false;
    }
    if (parser->have)
        deliver(out, parser->status, parser->data1, byte);
    else
        deliver(out, parser->status, byte, 0);
    parser->have = 0;
    if (parser->status >= 0xF0) parser->status = 0; /* system common has no running status */
    return true;
}

bool us_midi_parser_byte(struct us_midi_parser *parser, uint8_t byte, struct us_midi_message *out)
{
    return byte >= 0x80 ? take_status(parser, byte, out) : take_data(parser, byte, out);
}

size_t us_midi_encode(struct us_midi_encoder *encoder, struct us_midi_message message, uint8_t out[3])
{
    size_t length = us_midi_message_length(message.status), at = 0;
    if (!length) return 0;
    if (encoder && (message.status & 0xF0) == US_MIDI_NOTE_OFF && message.data2 == US_MIDI_RELEASE) {
        message.status = (uint8_t)(US_MIDI_NOTE_ON | (message.status & 0x0F));
        message.data2 = 0;
    }
    if (!encoder || encoder->status != message.status) out[at++] = message.status;
    if (encoder && message.status < 0xF8) encoder->status = message.status < 0xF0 ? message.status : 0;
    if (length >= 2) out[at++] = message.data1 & 0x7F;
    if (length == 3) out[at++] = message.data2 & 0x7F;
    return at;
}
