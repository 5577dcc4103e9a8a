/* Why a chord stands where it stands, and why another would do, in a teacher's words.  Pure; any thread. */
#ifndef UNDERSONG_EXPLAIN_H
#define UNDERSONG_EXPLAIN_H

#include "undersong/harmony.h"

/* What decided; a reason has several. */
enum us_cause {
    US_CAUSE_WRITTEN = 1 << 0,     /* the tune's own chord */
    US_CAUSE_CHOSEN = 1 << 1,      /* the user's */
    US_CAUSE_START = 1 << 2,       /* I opens the tune */
    US_CAUSE_END = 1 << 3,         /* I ends it */
    US_CAUSE_CLOSE = 1 << 4,       /* a phrase closes on I */
    US_CAUSE_HALF_CLOSE = 1 << 5,  /* a phrase stops on V */
    US_CAUSE_ONLY = 1 << 6,        /* of I, IV and V only this chord holds the main steps */
    US_CAUSE_SHARED = 1 << 7,      /* another one holds them as well */
    US_CAUSE_MOVEMENT = 1 << 8,    /* the other one stands on both sides */
    US_CAUSE_STAYS = 1 << 9,       /* the chord before goes on */
    US_CAUSE_LEADS_HOME = 1 << 10, /* V before I */
    US_CAUSE_PREPARES = 1 << 11,   /* IV before V */
    US_CAUSE_COMES_HOME = 1 << 12, /* I after V */
    US_CAUSE_PEAK = 1 << 13,       /* the line's peak on 6, 4 or 1, under IV */
    US_CAUSE_RUN = 1 << 14,        /* a run by step that I carries */
    US_CAUSE_PASSING = 1 << 15,    /* passing, neighbour or leaning notes are left out of the count */
    US_CAUSE_REPEAT = 1 << 16,     /* the melody was there before */
    US_CAUSE_AROUND = 1 << 17,     /* the notes alone would have asked for another chord */
    US_CAUSE_SILENT = 1 << 18,     /* no note begins here: a held one, or a rest */
    US_CAUSE_SIMPLIFIED = 1 << 20, /* the primary triad for the tune's own chord, or that there is none */
    US_CAUSE_LIKELIER = 1 << 21,   /* of two that hold the step, by all the rest */
    US_CAUSE_STAND_IN = 1 << 19,   /* a chord in the place of a primary triad, or the other way round */
    US_CAUSE_SEVENTH = 1 << 22     /* step 4 over V, the seventh of V7 */
};

struct us_reason {
    uint32_t causes; /* of enum us_cause */
    char text[320];
};

/* How steps are named: numbers, or syllables with la or do for the tonic of minor. */
enum us_step_names { US_STEPS_NUMBERS, US_STEPS_LA, US_STEPS_DO };

/* A harmonized tune: what us_harmony_tune was asked and what it answered. */
struct us_explain {
    const struct us_harmony_request *request;
    const struct us_chord_choice *chords;
    size_t count;
    struct us_harmony_view view;
    enum us_step_names names;
    bool simplified; /* the request's fixed chords stand for the tune's written ones */
};

/* The name of a step: "5", "raised 4", "lowered 7", or its syllable. Returns `out`. */
char *us_step_name(struct us_key key, int pitch, enum us_step_names names, char *out, size_t size);
/* Why chord `index` stands in the part of it from `from` until `until` quarters. */
void us_explain_chord(const struct us_explain *e, size_t index, double from, double until,
                      struct us_reason *out);
/* Why its alternative number `alternative` would do as well there, or what speaks against it. */
void us_explain_alternative(const struct us_explain *e, size_t index, size_t alternative, double from,
                            double until, struct us_reason *out);
/* The key at a time. */
struct us_key us_explain_key(const struct us_explain *e, double at);

#endif
