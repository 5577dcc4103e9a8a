/* Note values: how a length on the page is written, cut where one value cannot say it.  Pure. */
#ifndef SHEET_VALUES_H
#define SHEET_VALUES_H

#include "undersong/sheet.h"

enum { VALUES_MAX = 64 };

/* "4", "2.", "16" as LilyPond and the trade count values; NULL where one value cannot say `ticks`. */
const char *value_name(int32_t ticks);

/* Cuts a length that starts `from` ticks into a bar (its end inside the bar as well) into single values.  A
   note is kept whole where one value says it; a rest is cut at the beats.  What no value can say
   (quintuplets) ends up in the last piece as it is.  Returns how many pieces, at least 1. */
size_t value_cut(struct us_metre metre, int32_t from, int32_t len, bool rest, int32_t out[VALUES_MAX]);

/* A bar's events between `edges` (edge 0 the bar line, the last one its end): where a triplet group has to
   start and how long it is, in ticks.  The first one at or after edge `first`; false where none is left. */
bool value_triplet(const int32_t *edges, size_t count, size_t first, int32_t *at, int32_t *len);

#endif
