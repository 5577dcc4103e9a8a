/* Sharing the left hand between the program and the learner: who plays what, and whether what the learner
   plays fits.  Pure, fixed size; one thread at a time. */
#ifndef UNDERSONG_SHARE_H
#define UNDERSONG_SHARE_H

#include "undersong/harmony.h"

/* What the learner's left hand is, against the chord that was expected. */
enum us_fit {
    US_FIT_SILENT, /* nothing was played */
    US_FIT_YES,    /* the chord, or the part of it that tells which it is: its root, or its third and fifth */
    US_FIT_THIN,   /* notes of the chord that might be another chord's as well */
    US_FIT_ALSO,   /* another chord that would do here too: `as`; the bar's first one, held on, does */
    US_FIT_NO      /* `wrong` are the notes outside the expected chord */
};

struct us_verdict {
    enum us_fit fit;
    us_pcset played, wrong;
    struct us_chord expected;
    struct us_chord as; /* the chord that the learner's notes make, US_NO_CHORD where they make none */
    uint8_t others;     /* what else would do, most probable first */
    struct us_chord other[US_ALTERNATIVES_MAX];
};

/* Judges notes against a choice of chords.  An alternative would do from a probability of 0.15 on; a minor
   seventh above the root is always allowed in major chords. */
void us_share_judge(us_pcset played, const struct us_choice *choice, struct us_verdict *out);
/* One line for the player, in the letters of the key: "G fits", "A does not fit: G does, or Em"; empty where
   nothing was played.  Returns `out`. */
char *us_verdict_words(const struct us_verdict *v, struct us_key key, char *out, size_t size);

/* What the program strikes now. */
enum us_part {
    US_PART_NOTHING,
    US_PART_ROOT, /* the root alone, on the bar line and where the chord changes */
    US_PART_ALL
};

enum { US_SHARE_RECENT = 8 }; /* notes that may still belong to the coming chord */

/* How much stays with the program, by `level`: at 100 everything, always, and the learner's left hand is not
   listened for; from 67 on everything, but nothing while the learner plays the left hand; from 34 on only
   roots, and nothing while the learner plays; from 1 on only roots of chords that the learner has not got yet
   (right twice in a row), as a support, also while the learner plays the others; at 0 nothing.

   The learner "plays" from the first left-hand note to the end of the first whole bar without one; at that
   bar line the program comes in again. */
struct us_share {
    int level;
    bool automatic;
    double trust;              /* 0 to 1, with `automatic`: level is 100 * (1 - trust) */
    double got[US_ROLES];      /* how well the learner has the chord of each role, 0 to 1 */
    struct us_choice expected; /* the chord now */
    enum us_role role;
    bool expects, mid_bar;  /* a chord is expected; since a change in mid-bar */
    us_pcset heard;         /* the learner's left-hand notes under this chord */
    struct us_chord of_bar; /* what was expected at the bar line */
    struct us_chord
        passing; /* a chord of one beat within it, whose notes may be played too; US_NO_CHORD: none */
    /* The last notes and when they came, for those that come a little early. */
    int64_t at_ns[US_SHARE_RECENT];
    uint8_t pitch[US_SHARE_RECENT], next;
    uint64_t down[2];       /* left-hand keys that are down, a bit each */
    bool plays, in_bar;     /* the learner plays; has played in this bar */
    struct us_verdict last; /* on the last chord that is over */
};

enum { US_SHARE_AUTO = -1 };
/* `level` 0 to 100, or US_SHARE_AUTO: the program begins with all, and hands over more as the learner
   succeeds: each chord that fits gains a twentieth of the way, a wrong one loses four, a missed one two,
   dropping out five. */
void us_share_init(struct us_share *s, int level);
/* Whether the learner's left hand is listened for at all. */
bool us_share_listens(const struct us_share *s);
/* A left-hand key of the learner goes down or up.  While one plays the program's own notes must fall silent,
   unless us_share_part() is US_PART_ROOT.  The release of a key that is not down is nothing. */
void us_share_note_on(struct us_share *s, int64_t at_ns, int pitch);
void us_share_note_off(struct us_share *s, int pitch);
/* The chord expected from now on: call at each bar line and each change of chord, before us_share_part().
   Notes of the last 0.15 s belong to it already.  True where the chord before got a verdict, in `last`. */
bool us_share_expect(struct us_share *s, int64_t at_ns, const struct us_choice *choice, enum us_role role,
                     bool on_bar);
/* On a weak beat the chord changes for a moment: what the learner plays is judged by the longer chord, but
   notes of this one are not wrong either. */
void us_share_pass(struct us_share *s, int64_t at_ns, struct us_chord chord);
/* What the program strikes for the expected chord. */
enum us_part us_share_part(const struct us_share *s);
/* The run has ended or begins anew: nobody plays but who has struck within the last 0.15 s, older keys count
   as up, nothing is judged; what the learner has got stays. */
void us_share_rest(struct us_share *s, int64_t at_ns);

/* "0" to "100", "auto"; false for anything else. */
bool us_share_parse(const char *text, int *level);

#endif
