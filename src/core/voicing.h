/* The search for a voicing, shared by the textures. */
#ifndef VOICING_H
#define VOICING_H

#include "undersong/texture.h"

enum voicing_tone { TONE_ROOT, TONE_THIRD, TONE_FIFTH, TONE_SEVENTH, TONES };

struct voicing_request {
    int8_t tone[TONES]; /* pitch classes; NO_TONE where the texture wants none */
    bool root_lowest;   /* in complete chords too */
    bool bass_apart;    /* the lowest note sounds alone, the others after it */
    bool close;         /* close position and least motion before register */
    int low, high;      /* where the notes should lie if they can */
};
enum { NO_TONE = -1 };

/* Fills `tone` with the chord's tones; the seventh is NO_TONE in triads. */
void voicing_tones(struct us_chord chord, int8_t tone[TONES]);
/* Takes out what must not sound under this melody and second voice: clashes, and a leading note or dominant
   seventh that they have. */
void voicing_forbid(struct us_chord chord, const struct us_voicing_context *context, int8_t tone[TONES]);
/* The best legal voicing of as many of the tones as fit; count 0 where none does. */
struct us_voicing voicing_find(const struct voicing_request *request,
                               const struct us_voicing_context *context);
/* The highest pitch the left hand may play now. */
int voicing_ceiling(const struct us_voicing_context *context);

#endif
