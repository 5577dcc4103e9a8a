/* One tune with the chords that were worked out for it. */
#ifndef APP_HARMONIZED_H
#define APP_HARMONIZED_H

#include "harmonize_settings.h"
#include "undersong/explain.h"
#include "undersong/tune_file.h"

enum { KEY_CHANGES_MAX = 16 };

struct harmonized {
    const struct harmonize_settings *settings;
    const char *path; /* as it was given, the caller's */
    struct us_tune_file file;
    struct us_harmony_request request;
    struct us_key_span keys[KEY_CHANGES_MAX];
    double key_sure; /* 1 where it was given or written */
    struct us_chord_span *fixed;
    void *workspace;
    struct us_chord_choice *chords;
    size_t count;
    struct us_voicing *left; /* what the left hand strikes for each chord */
    struct us_explain explain;
};

/* Loads the tune number `number` (0: the first) of the file and works out its chords.  On failure nothing is
   left to finish. */
enum us_status harmonize_file(const struct harmonize_settings *settings,
                              const struct us_harmony_tables *tables, const char *path, int number,
                              struct harmonized *out, struct us_error *error) US_WARN_UNUSED;
void harmonized_finish(struct harmonized *h); /* accepts an emptied one */

/* "V" also for a dominant seventh: the numeral without the 7.  Returns `out`. */
char *degree_name(struct us_chord chord, struct us_key key, char *out, size_t size);
/* "IV", "ii", "V7", "V/V", "bVII" or a letter symbol; "IV" is iv in minor. */
bool degree_parse(const char *text, struct us_key key, struct us_chord *chord);

#endif
