#include "scene_staff.h"

#include <stdlib.h>
#include <string.h>

/* In spaces: the clef with what is around it, a sign of the signature.  Room for three signs is always kept,
   so that the page does not jump when the key becomes clear. */
static const float CLEF_WIDE = 3.0f, SIGN_WIDE = 0.95f;
enum { SIGNS_KEPT = 3 };

static const char LETTERS[] = "CDEFGAB";

static int letter_of(struct us_key key, int pitch, int *sign)
{
    char name[8];
    us_key_letter(key, pitch, name, sizeof name);
    *sign = name[1] == '#' ? 1 : name[1] == 'b' ? -1 : 0;
    if (name[1] && name[2]) *sign *= 2;
    const char *at = strchr(LETTERS, name[0]);
    return at ? (int)(at - LETTERS) : 0;
}

int staff_place(struct us_key key, int pitch)
{
    static const int SEMITONES[7] = {0, 2, 4, 5, 7, 9, 11};
    int sign, letter = letter_of(key, pitch, &sign);
    return (pitch - sign - SEMITONES[letter]) / 12 * 7 + letter;
}

float staff_y(const struct staff *staff, int place)
{
    return staff->bottom - (float)(place - PLACE_E4) * staff->space / 2;
}

static void sign_mark(struct stage *s, const struct staff *staff, enum us_mark_kind kind, enum us_ink ink,
                      float x, float y, float scale)
{
    float size = staff->space * scale;
    stage_mark(s, kind, ink, (struct area){x, y, size, size})->size = size;
}

/* What the signature does to a letter: 1 sharp, -1 flat.  Sharps come as F C G D A E B, flats the other way.
 */
static int signature_sign(int signature, int letter)
{
    static const int ORDER[7] = {3, 0, 4, 1, 5, 2, 6};
    for (int i = 0; i < abs(signature); i++)
        if (letter == (signature > 0 ? ORDER[i] : ORDER[6 - i])) return signature > 0 ? 1 : -1;
    return 0;
}

static void signature_marks(struct stage *s, const struct staff *staff, int signature)
{
    /* Where each stands on the treble staff (any primer of notation). */
    static const int SHARPS[7] = {45, 42, 46, 43, 40, 44, 41}, FLATS[7] = {41, 44, 40, 43, 39, 42, 38};
    for (int i = 0; i < abs(signature) && i < 7; i++)
        sign_mark(s, staff, signature > 0 ? US_MARK_SHARP : US_MARK_FLAT, US_INK_TEXT,
                  staff->area.x + staff->space * (CLEF_WIDE + SIGN_WIDE * ((float)i + 0.5f)),
                  staff_y(staff, signature > 0 ? SHARPS[i] : FLATS[i]), 1);
}

void staff_begin(struct stage *s, struct staff *staff)
{
    struct us_key key = s->now->key;
    int signature = key.tonic == US_NO_KEY ? 0 : us_key_signature(key);
    int signs = abs(signature) > SIGNS_KEPT ? abs(signature) : SIGNS_KEPT;
    for (int line = 0; line < 5; line++) {
        float y = staff_y(staff, PLACE_E4 + 2 * line);
        stage_line(s, staff->area.x, y, staff->area.x + staff->area.w, y, US_INK_SOFT, staff->space * 0.06f);
    }
    sign_mark(s, staff, US_MARK_CLEF, US_INK_TEXT, staff->area.x + staff->space * 1.5f,
              staff_y(staff, PLACE_E4 + 2), 1);
    signature_marks(s, staff, signature);
    float taken = staff->space * (CLEF_WIDE + SIGN_WIDE * (float)signs + 0.3f);
    staff->area.x += taken;
    staff->area.w -= taken;
}

void staff_ledgers(struct stage *s, const struct staff *staff, float x, int place)
{
    float half = staff->space * 0.9f, width = staff->space * 0.09f;
    for (int line = PLACE_E4 - 2; line >= place && line > PLACE_E4 - 12; line -= 2)
        stage_line(s, x - half, staff_y(staff, line), x + half, staff_y(staff, line), US_INK_SOFT, width);
    for (int line = PLACE_E4 + 10; line <= place && line < PLACE_E4 + 20; line += 2)
        stage_line(s, x - half, staff_y(staff, line), x + half, staff_y(staff, line), US_INK_SOFT, width);
}

void staff_accidental(struct stage *s, const struct staff *staff, float x, struct us_key key, int pitch,
                      enum us_ink ink)
{
    int sign, letter = letter_of(key, pitch, &sign);
    if (sign == signature_sign(us_key_signature(key), letter)) return;
    enum us_mark_kind kind = sign > 0 ? US_MARK_SHARP : sign < 0 ? US_MARK_FLAT : US_MARK_NATURAL;
    for (int i = 0; i < (abs(sign) > 1 ? 2 : 1); i++)
        sign_mark(s, staff, kind, ink, x - (float)i * staff->space, staff_y(staff, staff_place(key, pitch)),
                  0.8f);
}
