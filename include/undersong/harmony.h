/* Which chord fits: one model, seen live (only what has sounded) or over the whole tune.  Pure: no
   allocation, no clock.  Every struct is the caller's; one thread at a time for each.  The model thinks in
   semitones above the tonic, so a transposed tune gets the transposed chords. */
#ifndef UNDERSONG_HARMONY_H
#define UNDERSONG_HARMONY_H

#include "undersong/chord.h"
#include "undersong/harmony_tables.h"
#include "undersong/keyfinder.h"
#include "undersong/metre.h"
#include "undersong/tune.h"

/* Which chords there are: I alone; I, IV and V; all triads of the key, secondary dominants and sevenths. */
enum us_chords { US_CHORDS_I, US_CHORDS_PRIMARY, US_CHORDS_WIDE };
/* How often a chord may change: as is found out; at most by the bar, the half bar, the beat. */
enum us_change { US_CHANGE_AUTO, US_CHANGE_BAR, US_CHANGE_HALF, US_CHANGE_BEAT };

enum { US_ALTERNATIVES_MAX = 3 };

/* A chord, and what else would do, most probable first.  Probabilities are 0 to 1; the chord's own and the
   alternatives' add up to at most 1.  `role[r]` is the probability of each role, whatever the vocabulary. */
struct us_choice {
    struct us_chord chord;
    double probability;
    uint8_t alternatives;
    struct us_chord alternative[US_ALTERNATIVES_MAX];
    double alternative_probability[US_ALTERNATIVES_MAX];
    double role[US_ROLES];
};

/* Where in the music an event falls.  An unknown metre has top 0: bars and beats are then not trusted. */
struct us_position {
    struct us_metre metre;
    int32_t bar;         /* bars since the run began: 0 is the first full bar, -1 the pickup */
    double bar_quarters; /* from the bar line, in quarters */
    bool on_bar, on_beat;
};

/* ---- live ---- */

enum {
    US_LIVE_NOTES = 48,    /* notes of the last beats */
    US_LIVE_REACH = 32,    /* beats that the networks look back over */
    US_LIVE_LAYERS = 4,    /* layers of a live network */
    US_MEMORY_BEATS = 1024 /* beats of practice in which a strain is recognized */
};

/* A note as it was heard, in quarters since the run began. */
struct us_live_note {
    double at;
    int16_t pitch;
};

/* What a live network remembers of the beats before. */
struct us_net_memory {
    float layer[US_LIVE_LAYERS][US_LIVE_REACH][US_NET_HIDDEN];
    float first[US_NET_HIDDEN],
        ahead[US_LIVE_LAYERS][US_NET_HIDDEN]; /* what the past gives to the beat that is prepared */
    uint32_t prepared;                        /* that beat's number and one; 0: none is */
};

/* The beats of all practice so far, whatever the keys: how each begins, how it goes on, and which role it was
   judged to have once it could be seen from a little later. */
struct us_strain_memory {
    uint32_t count; /* of all time; the last US_MEMORY_BEATS are kept */
    uint32_t run;   /* where this run began */
    /* Newest first, written twice over, so that the beats are in one piece wherever the newest is. */
    uint32_t lead[2 * US_MEMORY_BEATS], tail[2 * US_MEMORY_BEATS];
    float liking[2 * US_MEMORY_BEATS]; /* what a beat that was judged in hindsight has ahead */
    float role[US_MEMORY_BEATS][3];
    float score[US_MEMORY_BEATS]; /* by beats ago: how well the last beats go with those before that one */
};

enum {
    US_HINDSIGHT_RING = 64, /* beats that are kept of its frames and layers */
    US_HINDSIGHT_AFTER = 6, /* later beats in whose light one is told */
    US_HINDSIGHT_WAIT = 3,  /* beats that are left until their notes have ended, while there is time */
    US_HINDSIGHT_KEPT = 8   /* beats that may wait for that */
};

/* A network for whole tunes that listens along, behind the player: see harmony_hindsight.h in src/core. */
struct us_hindsight {
    uint32_t frames, judged; /* beats heard, beats the network has judged */
    uint32_t told;           /* beats told in the light of later ones */
    uint32_t waiting;        /* frames that have come since and are not heard yet */
    uint32_t end;            /* how many beats there are, once that is known */
    float frame[US_HINDSIGHT_RING][US_NET_IN];
    float layer[US_NET_DEEP + 1][US_HINDSIGHT_RING][US_NET_HIDDEN];
    float here[US_HINDSIGHT_AFTER][3], move[US_HINDSIGHT_AFTER][9], forward[US_HINDSIGHT_AFTER][3], chain[3];
};

/* What the hindsight needs to know of a beat, until its notes have ended. */
struct us_live_beat {
    double at;
    struct us_position position;
};

/* Clues to the style, summed up note by note. */
struct us_style_clues {
    float length[9], interval[13], step[US_PITCH_CLASSES];
    float lengths, intervals, steps;
};

/* Clues to how often the chords change, summed up beat by beat: see harmony_rate.h in src/core.  The units
   are the bar, the half bar and the beat. */
struct us_rate_unit {
    float role[3], sounds[3]; /* of each role: its probability, and how long its triad's notes sound */
    uint8_t lacks;            /* a bit for each triad that a note on a beat is missing from */
};
struct us_rate_clues {
    struct us_rate_unit unit[US_RATES]; /* those that are open */
    float fit[US_RATES], cover[US_RATES], held[US_RATES], units[US_RATES];
    float moved[US_RATES], places[US_RATES]; /* expected changes where a unit begins */
    float role[3], beats, sounded, onsets, inside, leaps, stays;
    int8_t start;
};

/* All that the live model holds.  Copyable; about 190 KB. */
struct us_harmony_live {
    const struct us_harmony_tables *tables;
    uint8_t chords; /* enum us_chords */
    uint8_t change; /* enum us_change */
    struct us_key key;
    struct us_choice now;
    bool sounding;    /* a chord was decided since the run began */
    double at, shift; /* the clock of the run in quarters, and what is added to positions to keep it going */
    uint32_t notes;   /* since the run began */
    struct us_live_note note[US_LIVE_NOTES];
    uint32_t beats;  /* decided since the run began */
    uint32_t origin; /* the first beat that the networks have heard in this key */
    int16_t before;  /* pitch at the beat before, -1 at the start */
    float running;   /* mean pitch */
    struct us_style_clues clues;
    struct us_rate_clues rate_clues;
    uint8_t rate;          /* how often chords change, as found so far: enum us_change */
    float rates[US_RATES]; /* the probability of each rate */
    int32_t rate_bar;      /* the bar in which that was judged last */
    float usual;           /* mean length of the last notes, in quarters */
    bool phrase_over;      /* a long note has ended since */
    float frame[US_LIVE_REACH][US_NET_IN];
    uint32_t again_from; /* after a change of key: the beats to be heard again when there is time */
    bool again;
    struct us_net_memory net[US_LIVE_NETS];
    struct us_strain_memory memory;
    struct us_live_beat waiting[US_HINDSIGHT_KEPT];
    uint32_t heard;      /* beats handed on to the hindsight in this run */
    int16_t late_before; /* as `before` and `running`, for the hindsight */
    float late_running;
    bool settling;         /* the hindsight is being finished: nothing follows the beats it has heard */
    uint32_t settle_count; /* beats in the memory when that began */
    struct us_hindsight hindsight;
};

/* `tables` NULL: the built-in ones. */
void us_harmony_live_init(struct us_harmony_live *h, const struct us_harmony_tables *tables,
                          enum us_chords chords, enum us_change change);
/* The settings change while playing; nothing heard is forgotten. */
void us_harmony_live_settings(struct us_harmony_live *h, enum us_chords chords, enum us_change change);
/* The player starts anew: positions begin again, the strains heard so far are remembered. */
void us_harmony_live_fresh(struct us_harmony_live *h);
/* One melody note, at its onset; `pitch` as in MIDI.  `key` may differ from the last call's: then what was
   heard is judged again. */
void us_harmony_live_note(struct us_harmony_live *h, struct us_key key, const struct us_position *position,
                          int pitch);
/* The chord from this beat on.  Call at every felt beat, after us_harmony_live_note for a note on that beat.
   Where `change` (or good sense, with US_CHANGE_AUTO) allows no change the chord stays; `out` is still
   filled. With no key the chord is US_NO_CHORD. */
void us_harmony_live_decide(struct us_harmony_live *h, struct us_key key, const struct us_position *position,
                            struct us_choice *out);
/* What can wait until the answer has been sent: beats that are over are judged again in hindsight, for the
   memory of strains, and the next beat is made ready.  Call it between notes; what was left out too long is
   made up for at the next decision. */
void us_harmony_live_rest(struct us_harmony_live *h);
/* The part of it that is quickly done and shortens the next decision. */
void us_harmony_live_ready(struct us_harmony_live *h);
/* The run is over: its last beats can be judged in hindsight, since nothing follows them. */
void us_harmony_live_over(struct us_harmony_live *h);
/* The same in the middle of a run: the player has gone back, and what follows does not continue it. */
void us_harmony_live_again(struct us_harmony_live *h);
/* Goes on with that by one beat; true where nothing is left of it.  Call it between notes; what was left out
   is made up for when the hindsight is needed again. */
bool us_harmony_live_settle(struct us_harmony_live *h);

/* ---- whole tune ---- */

/* From `at` quarters on the key is `key`. */
struct us_key_span {
    double at;
    struct us_key key;
};

struct us_harmony_request {
    const struct us_harmony_tables *tables; /* NULL: the built-in ones */
    const struct us_tune *tune;
    struct us_key key;              /* the key throughout, unless `keys` says otherwise */
    const struct us_key_span *keys; /* changes of key, by time; may be NULL */
    size_t key_count;
    struct us_metre metre;
    double pickup; /* quarters before the first bar line */
    enum us_chords chords;
    enum us_change change;
    bool ignore_tune_chords;           /* judge the melody alone, as if no chords were written */
    const struct us_chord_span *fixed; /* chords chosen by the user: they win over all else; may be NULL */
    size_t fixed_count;
};

/* A chord from `at` for `len` quarters. */
struct us_chord_choice {
    double at, len;
    struct us_choice choice;
    bool given; /* by the teacher or by `fixed` */
};

/* One beat as the model sees it, for explanations.  The first may be shorter than a beat (a pickup). */
struct us_beat_view {
    double at, len;
    struct us_position position;
    struct us_key key;
    double role[US_ROLES];   /* after weighing everything */
    double melody[US_ROLES]; /* from the beat's own notes alone */
    struct us_chord chord;   /* as decided */
    struct us_chord meant;   /* the chord that it stands in for, where that is likelier; or no chord */
    bool may_change;         /* the vocabulary of change lets a chord begin here */
    bool phrase_end;         /* a phrase closes on this beat */
    int32_t same_as;         /* an earlier beat with the same strain, or -1 */
};

struct us_harmony_view {
    const struct us_beat_view *beats; /* inside the workspace */
    size_t beat_count;
    enum us_change change; /* as asked for or, with US_CHANGE_AUTO, as found */
    double change_probability;
};

/* Bytes of workspace for a request; alignment as from malloc. */
size_t us_harmony_workspace_size(const struct us_harmony_request *request);
/* The chords of a whole tune, by time, without gaps from the file's start to the last note's end.  Writes at
   most `max` and returns how many there are (never more than one a beat, so `max` = us_harmony_beats() always
   fits). `view` may be NULL. */
size_t us_harmony_tune(const struct us_harmony_request *request, void *workspace, struct us_chord_choice *out,
                       size_t max, struct us_harmony_view *view);
/* The key of the request's tune among `candidates` (from us_keys_of_tune): the one in which the melody's
   steps and its chords together make most sense, a key in which the chords stay unclear being the wrong one.
   The workspace is that of the request, whose own key is not looked at.  `probability` (0 to 1) may be NULL.
   US_NO_KEY for no candidates. */
struct us_key us_harmony_key(const struct us_harmony_request *request,
                             const struct us_key_candidate *candidates, size_t count, void *workspace,
                             double *probability);
/* How many beats the request's tune has, a cut one at the start included. */
size_t us_harmony_beats(const struct us_harmony_request *request);

#endif
