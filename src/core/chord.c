#include "undersong/chord.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

static const us_pcset KIND_TONES[US_CHORD_KINDS] = {
    [US_CHORD_MAJ] = 1 << 0 | 1 << 4 | 1 << 7,
    [US_CHORD_MIN] = 1 << 0 | 1 << 3 | 1 << 7,
    [US_CHORD_DIM] = 1 << 0 | 1 << 3 | 1 << 6,
    [US_CHORD_DOM7] = 1 << 0 | 1 << 4 | 1 << 7 | 1 << 10,
    [US_CHORD_MIN7] = 1 << 0 | 1 << 3 | 1 << 7 | 1 << 10,
};
static const char *const KIND_NAMES[US_CHORD_KINDS] = {"maj", "min", "dim", "dom7", "min7"};
static const char *const KIND_SUFFIX[US_CHORD_KINDS] = {"", "m", "dim", "7", "m7"};

us_pcset us_chord_tones(struct us_chord chord)
{
    return chord.root == US_NO_CHORD ? 0 : us_pcset_transpose(KIND_TONES[chord.kind], chord.root);
}

bool us_chord_equal(struct us_chord a, struct us_chord b)
{
    return a.root == b.root && (a.kind == b.kind || a.root == US_NO_CHORD);
}

const char *us_chord_kind_name(enum us_chord_kind kind)
{
    return KIND_NAMES[kind];
}

char *us_chord_symbol(struct us_chord chord, struct us_key key, char *out, size_t size)
{
    char letter[4];
    if (chord.root == US_NO_CHORD)
        snprintf(out, size, "-");
    else
        snprintf(out, size, "%s%s", us_key_letter(key, chord.root, letter, sizeof letter),
                 KIND_SUFFIX[chord.kind]);
    return out;
}

static bool has_word(const char *text, const char *word)
{
    return strncmp(text, word, strlen(word)) == 0;
}

/* "ma", "maj" and "M" name the seventh that goes with a plain triad; "madd9" is a minor chord. */
static bool is_major(const char *tail)
{
    return *tail == 'M' || (has_word(tail, "ma") && !has_word(tail, "madd"));
}

/* A 7, 9, 11 or 13 before the bass that brings a minor seventh: not those of "add9", "m(maj7)" and "69". */
static bool has_seventh(const char *tail)
{
    const char *bass = tail + strcspn(tail, "/");
    for (const char *at = tail; at < bass; at++) {
        size_t digits = strspn(at, "0123456789");
        if (!digits) continue;
        bool other = at - tail >= 3 && (has_word(at - 3, "add") || has_word(at - 3, "maj"));
        bool high = *at == '7' || *at == '9' || has_word(at, "11") || has_word(at, "13");
        if (high && !other) return true;
        at += digits - 1;
    }
    return false;
}

static enum us_chord_kind parse_kind(const char *tail)
{
    bool minor = *tail == '-' || (*tail == 'm' && !is_major(tail));
    bool seventh = !is_major(tail) && has_seventh(tail);
    if (has_word(tail, "dim") || has_word(tail, "o")) return US_CHORD_DIM;
    if (minor && (strstr(tail, "b5") || strstr(tail + 1, "-5"))) return US_CHORD_DIM;
    if (minor) return seventh ? US_CHORD_MIN7 : US_CHORD_MIN;
    return seventh ? US_CHORD_DOM7 : US_CHORD_MAJ;
}

/* Whether the whole tail after the root is made of what chord symbols are made of: "Fine" and "Coda" are
 * words. */
static bool is_symbol_tail(const char *tail)
{
    static const char *const PARTS[] = {"maj", "min", "madd", "dim", "aug", "sus", "add", "ma", "mi",
                                        "m",   "M",   "o",    "-",   "+",   "#",   "b",   "11", "13",
                                        "2",   "4",   "5",    "6",   "7",   "9",   "(",   ")",  "/A",
                                        "/B",  "/C",  "/D",   "/E",  "/F",  "/G"};
    while (*tail) {
        size_t length = 0;
        for (size_t i = 0; i < sizeof PARTS / sizeof *PARTS && !length; i++)
            if (has_word(tail, PARTS[i])) length = strlen(PARTS[i]);
        if (!length) return false;
        tail += length;
    }
    return true;
}

bool us_chord_parse(const char *symbol, struct us_chord *chord)
{
    static const int8_t LETTERS[7] = {9, 11, 0, 2, 4, 5, 7}; /* A to G */
    if (*symbol < 'A' || *symbol > 'G') return false;
    int root = LETTERS[*symbol - 'A'];
    symbol++;
    if (*symbol == '#')
        root++, symbol++;
    else if (*symbol == 'b')
        root--, symbol++;
    if (!is_symbol_tail(symbol)) return false;
    *chord = (struct us_chord){(int8_t)us_pitch_class(root), (uint8_t)parse_kind(symbol)};
    return true;
}

static bool is_diatonic(struct us_chord chord, struct us_key key)
{
    us_pcset scale = us_key_scale(key);
    if (key.mode == US_MODE_MINOR) scale |= us_pcset_transpose(1 << 11, key.tonic);
    return (us_chord_tones(chord) & ~scale) == 0;
}

static const char *const ROMAN[] = {"I", "II", "III", "IV", "V", "VI", "VII"};

static void roman_of(struct us_chord chord, struct us_key key, char *out, size_t size)
{
    struct us_step step = us_key_step(key, chord.root);
    bool small = chord.kind == US_CHORD_MIN || chord.kind == US_CHORD_MIN7 || chord.kind == US_CHORD_DIM;
    static const char *const SUFFIX[US_CHORD_KINDS] = {"", "", "o", "7", "7"};
    /* In minor the plain numeral of step 7 with a leading-note root is the raised one. */
    const char *sign = step.alter < 0 ? "b" : step.alter > 0 && key.mode != US_MODE_MINOR ? "#" : "";
    if (key.mode == US_MODE_MINOR && step.alter > 0 && step.number != 7) sign = "#";
    char roman[8];
    snprintf(roman, sizeof roman, "%s", ROMAN[step.number - 1]);
    if (small)
        for (char *c = roman; *c; c++)
            *c = (char)tolower((unsigned char)*c);
    snprintf(out, size, "%s%s%s", sign, roman, SUFFIX[chord.kind]);
}

char *us_chord_numeral(struct us_chord chord, struct us_key key, char *out, size_t size)
{
    if (chord.root == US_NO_CHORD || key.tonic == US_NO_KEY) {
        snprintf(out, size, "-");
        return out;
    }
    bool dominant = chord.kind == US_CHORD_MAJ || chord.kind == US_CHORD_DOM7;
    struct us_step target = us_key_step(key, chord.root + 5);
    if (dominant && !is_diatonic(chord, key) && target.alter == 0 && target.number != 1) {
        char of[8];
        struct us_chord resolved = {(int8_t)us_pitch_class(chord.root + 5), US_CHORD_MAJ};
        if (!is_diatonic(resolved, key)) resolved.kind = US_CHORD_MIN;
        if (is_diatonic(resolved, key)) {
            roman_of(resolved, key, of, sizeof of);
            snprintf(out, size, "V%s/%s", chord.kind == US_CHORD_DOM7 ? "7" : "", of);
            return out;
        }
    }
    roman_of(chord, key, out, size);
    return out;
}

struct us_chord us_chord_primary(struct us_key key, enum us_role role)
{
    static const int8_t ROOT[US_ROLES] = {0, 0, 5, 7};
    static const uint8_t KIND[US_MODES][US_ROLES] = {
        [US_MODE_MAJOR] = {0, US_CHORD_MAJ, US_CHORD_MAJ, US_CHORD_MAJ},
        [US_MODE_MINOR] = {0, US_CHORD_MIN, US_CHORD_MIN, US_CHORD_MAJ},
        [US_MODE_DORIAN] = {0, US_CHORD_MIN, US_CHORD_MAJ, US_CHORD_MIN},
        [US_MODE_MIXOLYDIAN] = {0, US_CHORD_MAJ, US_CHORD_MAJ, US_CHORD_MIN},
    };
    if (role == US_ROLE_NONE || key.tonic == US_NO_KEY) return (struct us_chord){US_NO_CHORD, US_CHORD_MAJ};
    return (struct us_chord){(int8_t)us_pitch_class(key.tonic + ROOT[role]), KIND[key.mode][role]};
}

enum us_role us_chord_role(struct us_chord chord, struct us_key key)
{
    if (chord.root == US_NO_CHORD || key.tonic == US_NO_KEY) return US_ROLE_NONE;
    int above = us_pitch_class(chord.root - key.tonic);
    bool minor = us_mode_has_minor_third((enum us_mode)key.mode);
    bool dominant = chord.kind == US_CHORD_MAJ || chord.kind == US_CHORD_DOM7;
    switch (above) {
    case 0: return US_ROLE_I;
    case 2: return !minor && dominant ? US_ROLE_NONE : US_ROLE_IV;
    case 3: return minor ? US_ROLE_I : US_ROLE_NONE;
    case 4: return minor || dominant ? US_ROLE_NONE : US_ROLE_I;
    case 5: return US_ROLE_IV;
    case 7: return US_ROLE_V;
    case 8: return minor ? US_ROLE_I : US_ROLE_NONE;
    case 9: return minor || dominant ? US_ROLE_NONE : US_ROLE_I;
    case 10: return key.mode == US_MODE_MAJOR ? US_ROLE_NONE : US_ROLE_V;
    case 11: return US_ROLE_V;
    default: return US_ROLE_NONE;
    }
}

const char *us_role_name(enum us_role role)
{
    static const char *const NAMES[US_ROLES] = {"-", "I", "IV", "V"};
    return NAMES[role];
}
