/* The computer's keyboard as a piano: two rows of keys, and keys that change things.  A source of the live
   process.  A terminal tells when a key goes down, not when it comes up: a note is released at the next key,
   or a while after the last sign of it. */
#ifndef UNDERSONG_TYPED_KEYS_H
#define UNDERSONG_TYPED_KEYS_H

#include "undersong/live.h"

#include <termios.h>

/* What a typed character means.  The home row (a s d f g h j k l ;) is the white keys from middle C, the row
   above (w e  t y u  o p) the black ones between them. */
enum us_typed { US_TYPED_NOTHING, US_TYPED_NOTE, US_TYPED_CONTROL, US_TYPED_PANIC, US_TYPED_OCTAVE };
struct us_typed_meaning {
    enum us_typed what;
    int value;       /* semitones above middle C; or octaves to move; or the control's value */
    uint8_t control; /* enum us_control */
};
struct us_typed_meaning us_typed_meaning(unsigned char typed);
/* Lines of help for the player. */
extern const char *const US_TYPED_HELP;

/* How long a note is held after the last sign of its key; a terminal repeats a held key about 30 times a
   second after half a second or less (common practice, no source). */
#define US_TYPED_HOLD_NS INT64_C(700000000)

/* Caller-owned. */
struct us_typed_keys {
    int fd;
    bool notes;       /* notes too; else only what changes things, beside another source */
    bool ended, told; /* the terminal has gone, and the live process knows */
    int octave;       /* moved by so many */
    int sounding;     /* pitch, or -1 */
    unsigned char last;
    int64_t last_ns; /* the last sign of it */
};
/* Puts the terminal `fd` into single-key mode.  Its state comes back with us_typed_keys_finish(), at exit()
   and on a fatal signal.  US_STATUS_BAD_INPUT where `fd` is no terminal.  One at a time. */
enum us_status us_typed_keys_init(struct us_typed_keys *k, int fd, bool notes,
                                  struct us_error *error) US_WARN_UNUSED;
void us_typed_keys_finish(struct us_typed_keys *k);
struct us_source us_typed_keys_source(struct us_typed_keys *k);

#endif
