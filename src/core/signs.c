#include "undersong/signs.h"

#include <string.h>

static const char SHARP[] = "\xE2\x99\xAF", FLAT[] = "\xE2\x99\xAD", DIMINISHED[] = "\xC2\xB0";

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/* A name or a part of one begins here, as V and bVI do in "V7/bVI". */
static bool begins(const char *text, const char *at)
{
    return at == text || strchr("/ (", at[-1]);
}

/* The b before a numeral or a step, as in bIII, V7/bVI or b7. */
static bool lowers(const char *text, const char *at)
{
    return begins(text, at) && at[1] && strchr("IViv1234567", at[1]);
}

/* The b after a letter of its own, as in Bb, Ebm, Ab7 or Db dim. */
static bool is_flat(const char *text, const char *at)
{
    if (*at != 'b') return false;
    if (lowers(text, at)) return true;
    bool letter = at > text && at[-1] >= 'A' && at[-1] <= 'G';
    bool alone = letter && (at == text + 1 || !is_letter(at[-2]));
    return alone && (!is_letter(at[1]) || at[1] == 'm' || strncmp(at + 1, "dim", 3) == 0);
}

/* The o after a small numeral, as in viio or #ivo; "io" and "vo" only where they are all there is, as they
   are words too. */
static bool is_diminished(const char *text, const char *at)
{
    if (*at != 'o' || is_letter(at[1])) return false;
    const char *first = at;
    while (first > text && (first[-1] == 'i' || first[-1] == 'v'))
        first--;
    bool altered = first > text && (first[-1] == '#' || is_flat(text, first - 1));
    if (at - first >= 2) return altered || begins(text, first);
    return at - first == 1 && (altered || first == text) && !at[1];
}

const char *us_write_signs(const char *text, char *out, size_t size)
{
    size_t used = 0;
    const char *at = text;
    for (; *at && used + 4 < size; at++) {
        const char *sign = *at == '#'                ? SHARP
                           : is_flat(text, at)       ? FLAT
                           : is_diminished(text, at) ? DIMINISHED
                                                     : NULL;
        size_t length = sign ? strlen(sign) : 1;
        memcpy(out + used, sign ? sign : at, length);
        used += length;
    }
    while (used && ((unsigned char)*at & 0xC0) == 0x80) /* the letter was cut inside */
        at--, used--;
    out[used] = 0;
    return out;
}

char *us_cut_text(const char *text, char *out, size_t size)
{
    size_t length = text ? strlen(text) : 0;
    if (length >= size)
        for (length = size - 1; length && (text[length] & 0xC0) == 0x80;)
            length--;
    if (length) memcpy(out, text, length);
    out[length] = 0;
    return out;
}
