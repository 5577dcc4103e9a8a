/* Tunes that `play` follows: one that was named, or a songbook, each made ready with key, metre and chords.
 */
#ifndef APP_KNOWN_TUNES_H
#define APP_KNOWN_TUNES_H

#include "undersong/harmony.h"
#include "undersong/phrases.h"
#include "undersong/songbook.h"
#include "undersong/status.h"
#include "undersong/tune_file.h"

/* One tune and all that its score looks at. */
struct known_tune {
    struct us_tune_file file;
    struct us_chord_span *chords;
    struct us_phrase *phrases; /* as they stand on the page */
    size_t phrase_count;
    struct us_score score;
};

struct known_tunes {
    struct known_tune **tunes;
    const struct us_score **songs;
    struct us_song_opening *openings;
    size_t count;
    struct us_songbook book;
};

/* One tune.  Chords that are not written in it are worked out, from the vocabulary `chords`. */
enum us_status known_tunes_load_one(const char *path, enum us_chords chords, enum us_change change,
                                    struct known_tunes *out, struct us_error *error) US_WARN_UNUSED;
/* All tunes of a folder.  A tune that cannot be read is told of on standard error and left out; an error only
   where none is left. */
enum us_status known_tunes_load_folder(const char *path, enum us_chords chords, enum us_change change,
                                       struct known_tunes *out, struct us_error *error) US_WARN_UNUSED;
void known_tunes_finish(struct known_tunes *tunes);

#endif
