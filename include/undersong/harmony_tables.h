/* What was learned about harmony: small networks of convolutions over beats, for what is heard of a whole
   tune and for what is heard so far, and how hymn-like tunes are told from dances.  Plain data, under 300 KB;
   the built-in tables are made by `ninja learn`, a teacher's own by us_harmony_learn (harmony_learn.h). */
#ifndef UNDERSONG_HARMONY_TABLES_H
#define UNDERSONG_HARMONY_TABLES_H

#include <stddef.h>
#include <stdint.h>

enum {
    US_NET_IN = 88,       /* numbers that describe a beat: harmony_frame.h in src/core */
    US_NET_HIDDEN = 48,   /* channels of each layer */
    US_NET_TAPS = 3,      /* each layer looks at three beats, further and further apart */
    US_NET_DEEP = 4,      /* layers after the first, 2, 4, 8 and 16 beats apart */
    US_NET_LIVE_DEEP = 3, /* of a live network */
    US_NET_OUT = 36,      /* roles, moves between roles, chords: see us_net_out */
    US_NET_ZERO = 80,     /* a weight is (byte - US_NET_ZERO) times the scale of its output */
    US_NET_REACH = 46,    /* so that every byte is a printable character of ASCII */
    US_WHOLE_NETS = 2,
    US_LIVE_NETS = 2,
    US_STYLE_CLUES = 43,
    US_RATES = 3, /* chords change by the bar, the half bar, the beat */
    US_RATE_CLUES = 23,
    US_HARMONY_CLASSES = 24 /* root above the tonic times two, plus one where the third is minor */
};

/* Where in a network's output what stands. */
enum us_net_out {
    US_OUT_ROLE = 0,  /* three: the role of this beat's chord */
    US_OUT_PAIR = 3,  /* nine, whole tune: [role before][role now]; live: roles 2, 4 and 8 beats ago */
    US_OUT_CLASS = 12 /* twenty-four: the chord */
};

struct us_harmony_net {
    uint8_t deep_layers; /* at most US_NET_DEEP */
    float mix;           /* how much of the answer the plain part gives where a tune is wholly hymn-like */
    uint8_t first[US_NET_TAPS * US_NET_IN * US_NET_HIDDEN];
    uint8_t deep[US_NET_DEEP * US_NET_TAPS * US_NET_HIDDEN * US_NET_HIDDEN];
    uint8_t last[US_NET_HIDDEN * US_NET_OUT];
    uint8_t plain[US_NET_TAPS * US_NET_IN * US_NET_OUT]; /* straight from the notes, for hymn-like tunes */
    float first_scale[US_NET_HIDDEN], first_bias[US_NET_HIDDEN];
    float deep_scale[US_NET_DEEP * US_NET_HIDDEN], deep_bias[US_NET_DEEP * US_NET_HIDDEN];
    float last_scale[US_NET_OUT], last_bias[US_NET_OUT];
    float plain_scale[US_NET_OUT], plain_bias[US_NET_OUT];
};

struct us_harmony_tables {
    struct us_harmony_net whole[US_WHOLE_NETS], live[US_LIVE_NETS];
    float style_whole[US_STYLE_CLUES], style_live[US_STYLE_CLUES];
    float rate_whole[US_RATES][US_RATE_CLUES], rate_live[US_RATES][US_RATE_CLUES]; /* harmony_rate.h */
    float class_move[2][US_HARMONY_CLASSES][US_HARMONY_CLASSES]; /* major, minor: log of how much likelier
                                                                    than by chance */
    float seventh[2][US_HARMONY_CLASSES]; /* share of these chords that bear a minor seventh */
};

extern const struct us_harmony_tables us_harmony_built_in;

#endif
