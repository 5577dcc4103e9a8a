#include "undersong/metre.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool us_metre_equal(struct us_metre a, struct us_metre b)
{
    return a.top == b.top && a.bottom == b.bottom;
}

bool us_metre_is_compound(struct us_metre metre)
{
    return metre.bottom == 8 && metre.top > 3 && metre.top % 3 == 0;
}

bool us_metre_parse(const char *text, struct us_metre *metre)
{
    if (strcmp(text, "C") == 0 || strcmp(text, "C|") == 0) {
        *metre = text[1] ? (struct us_metre){2, 2} : (struct us_metre){4, 4};
        return true;
    }
    char *end;
    if (*text < '0' || *text > '9') return false;
    long top = strtol(text, &end, 10);
    if (*end != '/' || end[1] < '0' || end[1] > '9') return false;
    long bottom = strtol(end + 1, &end, 10);
    if (*end || top < 1 || top > 32 || bottom < 1 || bottom > 32 || (bottom & (bottom - 1))) return false;
    *metre = (struct us_metre){(uint8_t)top, (uint8_t)bottom};
    return true;
}

char *us_metre_name(struct us_metre metre, char *out, size_t size)
{
    snprintf(out, size, "%u/%u", metre.top, metre.bottom);
    return out;
}

double us_metre_bar_quarters(struct us_metre metre)
{
    return metre.bottom ? 4.0 * metre.top / metre.bottom : 4.0;
}

double us_metre_beat_quarters(struct us_metre metre)
{
    if (us_metre_is_compound(metre)) return 1.5;
    return metre.bottom ? 4.0 / metre.bottom : 1.0;
}

double us_metre_next_beat(struct us_metre metre, double bar_quarters)
{
    double beat = us_metre_beat_quarters(metre);
    return (floor(bar_quarters / beat + 0.01) + 1) * beat;
}

int us_metre_beats(struct us_metre metre)
{
    return us_metre_is_compound(metre) ? metre.top / 3 : metre.top;
}

double us_metre_half_quarters(struct us_metre metre)
{
    double bar = us_metre_bar_quarters(metre);
    return us_metre_beats(metre) % 2 == 0 ? bar / 2 : bar;
}
