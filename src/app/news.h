/* What the companion has found out or judged, in words. */
#ifndef APP_NEWS_H
#define APP_NEWS_H

#include "undersong/companion.h"

enum { NEWS_SIZE = 160 };

/* Whether the action is news for the player, and not a note or a mark. */
bool is_news(const struct us_action *action);
/* One line without its end; "" where there is nothing to say.  Returns `out`. */
const char *news_words(const struct us_action *action, const struct us_snapshot *now, char out[NEWS_SIZE]);
/* What is said before the first note: where to begin, or that all sounds elsewhere.  "" without a drill, a
   loop, a match and a shift. */
const char *first_words(const struct us_snapshot *now, char out[NEWS_SIZE]);

#endif
