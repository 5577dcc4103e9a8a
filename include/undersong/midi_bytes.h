/* MIDI 1.0 as bytes on a wire: a parser fed byte by byte and an encoder.  Fixed size, no allocation, no lock:
   fit for the realtime thread.  Source: MIDI 1.0 Detailed Specification, table of status bytes and "Running
   Status". */
#ifndef UNDERSONG_MIDI_BYTES_H
#define UNDERSONG_MIDI_BYTES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Status bytes of channel messages, to be or-ed with the channel, 0 to 15. */
enum {
    US_MIDI_NOTE_OFF = 0x80,
    US_MIDI_NOTE_ON = 0x90,
    US_MIDI_POLY_PRESSURE = 0xA0,
    US_MIDI_CONTROL = 0xB0,
    US_MIDI_PROGRAM = 0xC0,
    US_MIDI_PRESSURE = 0xD0,
    US_MIDI_BEND = 0xE0,
    US_MIDI_SYSEX = 0xF0,
    US_MIDI_SYSEX_END = 0xF7,
    US_MIDI_ACTIVE_SENSING = 0xFE
};

/* The release velocity that stands for "none was measured". */
enum { US_MIDI_RELEASE = 64 };

/* One message.  Data bytes that the message does not have are 0. */
struct us_midi_message {
    uint8_t status;
    uint8_t data1;
    uint8_t data2;
};

/* Bytes of a message with this status, with it: 1 to 3; 0 for SysEx, its end, undefined status bytes and data
   bytes. */
size_t us_midi_message_length(uint8_t status);

/* Parser state; visible so that its owner can hold it.  All zero is the initial state. */
struct us_midi_parser {
    uint8_t status; /* the message being read, or running status; 0: none */
    uint8_t data1;
    uint8_t have;  /* data bytes read of it */
    bool in_sysex; /* data bytes are skipped until a status byte other than real-time */
};

/* Takes one byte.  True when a message is complete in `out`: channel messages, system common and real-time
   (also inside other messages and SysEx).  A note-on of velocity 0 comes out as a note-off of velocity
   US_MIDI_RELEASE.  SysEx, data without status and undefined status bytes give nothing.  Cannot fail. */
bool us_midi_parser_byte(struct us_midi_parser *parser, uint8_t byte, struct us_midi_message *out);

/* Encoder state for running status; all zero is the initial state.  Set `status` to 0 to have the next
   message written whole, as after a reconnection. */
struct us_midi_encoder {
    uint8_t status;
};

/* Writes the message to `out` and returns its length, 0 where its status cannot be sent.  With an `encoder`
   the status is left out where it may be, and a note-off of velocity US_MIDI_RELEASE is written as a note-on
   of velocity 0; with NULL every message is whole and as given.  Data is cut to seven bits. */
size_t us_midi_encode(struct us_midi_encoder *encoder, struct us_midi_message message, uint8_t out[3]);

#endif
