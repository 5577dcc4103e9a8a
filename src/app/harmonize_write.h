/* The forms in which a harmonized tune is written. */
#ifndef APP_HARMONIZE_WRITE_H
#define APP_HARMONIZE_WRITE_H

#include <stdio.h>

#include "harmonized.h"

/* At most `width` columns where the words allow it. */
enum us_status write_harmony_text(const struct harmonized *h, int width, FILE *out,
                                  struct us_error *error) US_WARN_UNUSED;
void write_harmony_json(const struct harmonized *h, FILE *out);
enum us_status write_harmony_midi(const struct harmonized *h, FILE *out,
                                  struct us_error *error) US_WARN_UNUSED;
enum us_status write_harmony_abc(const struct harmonized *h, FILE *out,
                                 struct us_error *error) US_WARN_UNUSED;
enum us_status write_harmony_musicxml(const struct harmonized *h, FILE *out,
                                      struct us_error *error) US_WARN_UNUSED;
enum us_status write_harmony_lilypond(const struct harmonized *h, FILE *out,
                                      struct us_error *error) US_WARN_UNUSED;

/* Text between quotes as JSON wants it; bytes that are no UTF-8 become the replacement character. */
void write_json_string(const char *text, FILE *out);

#endif
