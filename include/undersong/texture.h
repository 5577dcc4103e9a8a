/* The left hands: how a chord is laid out under the keys and in time. */
#ifndef UNDERSONG_TEXTURE_H
#define UNDERSONG_TEXTURE_H

#include "undersong/chord.h"
#include "undersong/metre.h"

enum us_texture {
    US_TEXTURE_BLOCK,    /* close position, least motion */
    US_TEXTURE_FIFTHS,   /* open fifths: root and fifth */
    US_TEXTURE_ROOT_RUN, /* single root under I and IV, the arpeggio run under V */
    US_TEXTURE_BROKEN,   /* the chord's notes one after the other, in the beat's halves or thirds */
    US_TEXTURE_WALTZ,    /* root on the bar line, chord on the other beats */
    US_TEXTURE_DRONE,    /* tonic and fifth of the key throughout */
    US_TEXTURE_ROOTS,    /* single roots */
    US_TEXTURES
};

/* At most so many notes sound in the left hand at once. */
enum { US_LEFT_NOTES_MAX = 4 };

/* Notes that sound together, lowest first. */
struct us_voicing {
    uint8_t count;
    uint8_t pitch[US_LEFT_NOTES_MAX];
};

/* What a voicing must respect. */
struct us_voicing_context {
    struct us_key key;
    int melody;               /* the melody's sounding pitch, or -1; everything stays below it */
    int lowest;               /* lowest pitch allowed, by default 36 (C2) */
    int highest;              /* highest pitch allowed, by default 64 (E4) */
    struct us_voicing before; /* what the left hand struck last; count 0 at the start */
};

/* The chord as this texture strikes it on the bar line or on a change of chord. Always at least one note
   below the melody where `lowest` allows it. */
struct us_voicing us_texture_strike(enum us_texture texture, struct us_chord chord,
                                    const struct us_voicing_context *context);

/* A strike inside the bar, after the first one: `at` quarters after the bar line (or the chord's start). */
struct us_strike {
    double at;  /* quarters from the bar line */
    double len; /* quarters; the note is held until then unless the chord changes */
    struct us_voicing notes;
    uint8_t level; /* 0 to 127, relative to the texture's normal 100 */
};
enum { US_STRIKES_MAX = 16 };

/* The left hand of one chord inside one bar: strikes from `from` to `until` (quarters from the bar line), the
   first at `from`.  Returns how many were written to `out`, at most US_STRIKES_MAX. */
size_t us_texture_bar(enum us_texture texture, struct us_chord chord, enum us_role role,
                      struct us_metre metre, double from, double until,
                      const struct us_voicing_context *context, struct us_strike *out);

const char *us_texture_name(enum us_texture texture);
bool us_texture_parse(const char *name, enum us_texture *texture);

#endif
