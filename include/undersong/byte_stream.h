/* MIDI 1.0 bytes from and to a file descriptor, such as standard input and output: a source and a sink of the
   live process. */
#ifndef UNDERSONG_BYTE_STREAM_H
#define UNDERSONG_BYTE_STREAM_H

#include "undersong/input.h"
#include "undersong/live.h"

/* Caller-owned.  `input` holds the channel filter and the switches. */
struct us_byte_source {
    int fd;
    bool ended;
    struct us_input *input;
    struct us_midi_parser parser;
};
/* Sleeps on the descriptor with poll(2); ends at the end of the file. */
struct us_source us_byte_source(struct us_byte_source *s, int fd, struct us_input *input);

/* Caller-owned.  Voices go to channels 1, 2 and 3; running status is not used, so that a reader can come in
   at any message. */
enum { US_BYTE_SINK_BUFFER = 16384 };
struct us_byte_sink {
    int fd;
    uint32_t waiting;            /* bytes in `buffer` that the reader has not taken */
    _Atomic bool closed;         /* the reader has gone */
    _Atomic uint32_t dropped;    /* notes that were not begun because the reader is slow */
    uint64_t down[US_VOICES][2]; /* notes that were begun */
    uint8_t buffer[US_BYTE_SINK_BUFFER];
    /* Told once when the reader has gone; on the live thread, must not wait.  May be NULL. */
    void (*on_close)(void *user);
    void *user;
};
/* Never waits: what the reader does not take is kept, and when that is too much, notes are not begun;
   releases are always sent. */
struct us_sink us_byte_sink(struct us_byte_sink *s, int fd);

#endif
