/* The left hand of a lesson sheet as a voice of an abc page. */
#ifndef ABC_LEFT_H
#define ABC_LEFT_H

#include "undersong/sheet.h"
#include "written.h"

/* Its notes in the time of the page: the lowest of each grip, and the grip itself. */
struct abc_left {
    struct us_written_note *notes;
    const struct us_sheet_sound **grips;
    size_t count;
};

/* `tune` is what the page was made from.  Empty where the sheet has no left hand or other bars than the page.
   False when memory ends. */
bool abc_left_make(struct abc_left *left, const struct us_written *page, const struct us_tune *tune,
                   const struct us_sheet *sheet);
void abc_left_finish(struct abc_left *left);
/* The grip that sounds at `at`; NULL in a rest. */
const struct us_sheet_sound *abc_left_grip(const struct abc_left *left, int64_t at);

/* us_abc_write() with the left hand as one more voice, in the bass clef.  `sheet` may be NULL. */
US_WARN_UNUSED enum us_status abc_write_with_left(const struct us_tune *tune, const struct us_sheet *sheet,
                                                  int number, FILE *to, struct us_error *error);

#endif
