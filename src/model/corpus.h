/* Tunes with chords, for learning and evaluating: NAME.mid (the melody) beside NAME.tsv (key, metre, chords).
   The folder holds the tunes, or one folder a style that holds them. */
#ifndef MODEL_CORPUS_H
#define MODEL_CORPUS_H

#include "undersong/status.h"
#include "undersong/tune.h"

enum { CORPUS_FOLDS = 5 };

struct corpus_tune {
    char id[128];
    char style[32];      /* the folder's name */
    struct us_key key;   /* US_MODE_MAJOR or US_MODE_MINOR; US_NO_KEY where the label has none */
    bool key_sure;       /* the key is labelled, and the label is to be trusted */
    bool grid_sure;      /* and so are metre and pickup */
    int fold;            /* 0 to CORPUS_FOLDS - 1; see corpus_join_folds */
    struct us_tune tune; /* notes and chords */
};

struct corpus {
    struct corpus_tune *tunes; /* by style and name */
    size_t count;
};

/* Everything under `path`.  On failure nothing is left to finish and `error` names file and line. */
enum us_status corpus_load(struct corpus *corpus, const char *path, struct us_error *error) US_WARN_UNUSED;
/* A tune's fold comes from its first five intervals; this then puts near variants, which share three tenths
   of the runs of eight intervals of the shorter one, into the same fold whatever their openings.  Tunes that
   open alike and are no such variants are parted where only one of them moves.  corpus_load does so.  False
   on lack of memory. */
bool corpus_join_folds(struct corpus *corpus) US_WARN_UNUSED;
/* The same number for the same intervals between the first `count` notes, in whatever key. */
uint32_t corpus_hash(const struct us_note *notes, size_t count);
/* Whether a tune is a hymn, whose chords change by the beat, by its style's name. */
bool corpus_is_hymn(const struct corpus_tune *tune);
void corpus_finish(struct corpus *corpus);

#endif
