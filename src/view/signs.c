#include "undersong/scene.h"

#include <string.h>

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/* The b before a numeral, as in bIII or V7/bVI. */
static bool lowers(const char *text, const char *at)
{
    return *at == 'b' && (at == text || strchr("/ (", at[-1])) && at[1] && strchr("IViv", at[1]);
}

/* The b after a letter of its own, as in Bb, Ebm, Ab7 or Db dim. */
static bool is_flat(const char *text, const char *at)
{
    if (lowers(text, at)) return true;
    bool letter = at > text && at[-1] >= 'A' && at[-1] <= 'G';
    bool alone = letter && (at == text + 1 || !is_letter(at[-2]));
    return *at == 'b' && alone && (!is_letter(at[1]) || at[1] == 'm' || strncmp(at + 1, "dim", 3) == 0);
}

const char *us_write_signs(const char *text, char *out, size_t size)
{
    size_t used = 0;
    for (const char *at = text; *at && used + 4 < size; at++) {
        const char *sign = *at == '#' ? "\xE2\x99\xAF" : is_flat(text, at) ? "\xE2\x99\xAD" : NULL;
        if (sign)
            memcpy(out + used, sign, 3), used += 3;
        else
            out[used++] = *at;
    }
    out[used] = 0;
    return out;
}
