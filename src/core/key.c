#include "undersong/key.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

static const int8_t STEP_SEMITONES[US_MODES][7] = {
    [US_MODE_MAJOR] = {0, 2, 4, 5, 7, 9, 11},
    [US_MODE_MINOR] = {0, 2, 3, 5, 7, 8, 10},
    [US_MODE_DORIAN] = {0, 2, 3, 5, 7, 9, 10},
    [US_MODE_MIXOLYDIAN] = {0, 2, 4, 5, 7, 9, 10},
};
static const char *const MODE_NAMES[US_MODES] = {"major", "minor", "dorian", "mixolydian"};
/* Semitones from the tonic up to the major key with the same signature. */
static const int8_t RELATIVE_MAJOR[US_MODES] = {0, 3, 10, 5};
static const int8_t LETTER_SEMITONES[7] = {0, 2, 4, 5, 7, 9, 11};

static bool starts_with(const char *text, const char *word, size_t least)
{
    size_t n = strlen(text);
    if (n < least || n > strlen(word)) return false;
    for (size_t i = 0; i < n; i++)
        if (tolower((unsigned char)text[i]) != word[i]) return false;
    return true;
}

static bool parse_mode(const char *text, uint8_t *mode)
{
    while (*text == ' ')
        text++;
    if (!*text || strcmp(text, "M") == 0)
        *mode = US_MODE_MAJOR;
    else if (strcmp(text, "m") == 0 || starts_with(text, "aeolian", 3))
        *mode = US_MODE_MINOR;
    else if (starts_with(text, "ionian", 3))
        *mode = US_MODE_MAJOR;
    else {
        for (int m = 0; m < US_MODES; m++) {
            if (starts_with(text, MODE_NAMES[m], 3)) {
                *mode = (uint8_t)m;
                return true;
            }
        }
        return false;
    }
    return true;
}

bool us_key_parse(const char *name, struct us_key *key)
{
    const char *letters = "CDEFGAB";
    const char *found = *name ? strchr(letters, toupper((unsigned char)*name)) : NULL;
    if (!found) return false;
    int tonic = LETTER_SEMITONES[found - letters];
    name++;
    if (*name == '#')
        tonic++, name++;
    else if (*name == 'b')
        tonic--, name++;
    uint8_t mode;
    if (!parse_mode(name, &mode)) return false;
    *key = (struct us_key){(int8_t)us_pitch_class(tonic), mode};
    return true;
}

char *us_key_name(struct us_key key, char *out, size_t size)
{
    char letter[4];
    if (key.tonic == US_NO_KEY)
        snprintf(out, size, "no key yet");
    else
        snprintf(out, size, "%s %s", us_key_letter(key, key.tonic, letter, sizeof letter),
                 MODE_NAMES[key.mode]);
    return out;
}

bool us_key_equal(struct us_key a, struct us_key b)
{
    return a.tonic == b.tonic && (a.mode == b.mode || a.tonic == US_NO_KEY);
}

int us_key_signature(struct us_key key)
{
    if (key.tonic == US_NO_KEY) return 0;
    int fifths = us_pitch_class((key.tonic + RELATIVE_MAJOR[key.mode]) * 7);
    return fifths > 6 ? fifths - 12 : fifths;
}

bool us_key_flats(struct us_key key)
{
    return us_key_signature(key) < 0;
}

us_pcset us_key_scale(struct us_key key)
{
    us_pcset set = 0;
    if (key.tonic == US_NO_KEY) return 0;
    for (int i = 0; i < 7; i++)
        set |= (us_pcset)(1u << STEP_SEMITONES[key.mode][i]);
    return us_pcset_transpose(set, key.tonic);
}

bool us_mode_has_minor_third(enum us_mode mode)
{
    return STEP_SEMITONES[mode][2] == 3;
}

int us_mode_step_semitones(enum us_mode mode, int step)
{
    return STEP_SEMITONES[mode][(step - 1) % 7];
}

/* Notes outside the scale: the raised form, but lowered 3, 6 and 7 where the mode's own step is the major
 * one. */
struct us_step us_key_step(struct us_key key, int pitch)
{
    int above = us_pitch_class(pitch - key.tonic);
    const int8_t *scale = STEP_SEMITONES[key.mode];
    for (int i = 0; i < 7; i++)
        if (scale[i] == above) return (struct us_step){(int8_t)(i + 1), 0};
    bool lowered = above == 1 || above == 3 || above == 8 || above == 10;
    if (key.mode == US_MODE_MAJOR && (above == 1 || above == 8)) lowered = false;
    int plain = above + (lowered ? 1 : -1), step = 0;
    while (step < 6 && scale[step] != plain)
        step++;
    return (struct us_step){(int8_t)(step + 1), (int8_t)(lowered ? -1 : 1)};
}

const char *us_key_syllable(struct us_key key, int pitch, enum us_syllables style)
{
    static const char *const RAISED[] = {"do", "di",  "re", "ri", "mi", "fa",
                                         "fi", "sol", "si", "la", "li", "ti"};
    static const char *const LOWERED[] = {"do", "ra",  "re", "me", "mi", "fa",
                                          "se", "sol", "le", "la", "te", "ti"};
    int home = style == US_SYLLABLES_LA ? key.tonic + RELATIVE_MAJOR[key.mode] : key.tonic;
    bool lowered = us_key_step(key, pitch).alter < 0;
    if (style == US_SYLLABLES_DO && key.mode != US_MODE_MAJOR) lowered = us_key_step(key, pitch).alter <= 0;
    return (lowered ? LOWERED : RAISED)[us_pitch_class(pitch - home)];
}

/* Kept within five fifths of the key's middle: Fb ... B#. */
int us_key_spelling(struct us_key key, int pitch)
{
    int fifths = us_key_signature(key), place = us_pitch_class(pitch * 7);
    while (place > fifths + 8)
        place -= 12;
    while (place < fifths - 3)
        place += 12;
    return place;
}

char *us_key_letter(struct us_key key, int pitch_class, char *out, size_t size)
{
    return us_spelling_name(us_key_spelling(key, pitch_class), out, size);
}
