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
    int melody;        /* the melody's sounding pitch, or -1; everything stays below it */
    int second;        /* a second voice's sounding pitch, respected like the melody; 0 or less: none */
    int melody_before; /* the melody's pitch at the strike before, for parallels; 0 or less: unknown */
    int lowest;        /* lowest pitch allowed, by default US_LEFT_LOWEST */
    int highest;       /* highest pitch allowed, by default US_LEFT_HIGHEST */
    struct us_voicing before; /* the hand before this chord, see us_texture_hand(); count 0 at the start */
};
enum { US_LEFT_LOWEST = 36 /* C2 */, US_LEFT_HIGHEST = 64 /* E4 */, US_LEFT_SPAN = 16 /* a tenth */ };

/* Where the hand lies for this chord: every note that this texture plays one after the other or at once. Keep
   it as `before` for the next chord.  In it: nothing at or above the melody, nothing a semitone (or that and
   octaves) from it, at most a tenth, the low interval limits, no leading note and no seventh of a dominant
   that the melody has already.  Where room fails, the fifth goes first, then all but the root; the lowest
   note of a thinned chord is its root.  Count 0 where not even one tone of the chord fits. */
struct us_voicing us_texture_hand(enum us_texture texture, struct us_chord chord,
                                  const struct us_voicing_context *context);

/* The notes of that hand which are struck at once on the bar line or on a change of chord. */
struct us_voicing us_texture_strike(enum us_texture texture, struct us_chord chord,
                                    const struct us_voicing_context *context);

/* What of a voicing may still be struck under the melody as it is now: without what is not below it and
   what lies a minor second, or that and more octaves, from it.  For strikes that were laid out under an
   earlier melody note. */
struct us_voicing us_texture_fit(struct us_voicing voicing, int melody);

/* A strike inside the bar. */
struct us_strike {
    double at;  /* quarters from the bar line */
    double len; /* quarters; the note is held until then unless the chord changes */
    struct us_voicing notes;
    uint8_t level; /* 0 to 127, relative to the texture's normal 100 */
};
enum { US_STRIKES_MAX = 16 };

/* The left hand of one chord inside one bar: strikes from `from` to `until` (quarters from the bar line), the
   first at `from` with the notes of us_texture_strike().  Returns how many were written to `out`, at most
   US_STRIKES_MAX; 0 where nothing fits. */
size_t us_texture_bar(enum us_texture texture, struct us_chord chord, enum us_role role,
                      struct us_metre metre, double from, double until,
                      const struct us_voicing_context *context, struct us_strike out[US_STRIKES_MAX]);
/* The same where us_texture_hand() has answered `hand` for it already. */
size_t us_texture_bar_of(struct us_voicing hand, enum us_texture texture, struct us_chord chord,
                         enum us_role role, struct us_metre metre, double from, double until,
                         const struct us_voicing_context *context, struct us_strike out[US_STRIKES_MAX]);

/* "block", "root-run" ...; false for an unknown name. */
bool us_texture_parse(const char *name, enum us_texture *texture);

#endif
