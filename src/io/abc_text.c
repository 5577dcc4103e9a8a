/* Text in abc fields as UTF-8 and back (abc 2.1, section 8.2). */
#include "abc_reader.h"
#include "undersong/plain_line.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

/* Accented letters: what follows the backslash, and the character. */
static const struct {
    const char *mnemonic;
    uint16_t character;
} LETTERS[] = {
    {"`A", 0xC0},  {"'A", 0xC1},  {"^A", 0xC2},  {"~A", 0xC3},  {"\"A", 0xC4}, {"AA", 0xC5},  {"AE", 0xC6},
    {"cC", 0xC7},  {"`E", 0xC8},  {"'E", 0xC9},  {"^E", 0xCA},  {"\"E", 0xCB}, {"`I", 0xCC},  {"'I", 0xCD},
    {"^I", 0xCE},  {"\"I", 0xCF}, {"~N", 0xD1},  {"`O", 0xD2},  {"'O", 0xD3},  {"^O", 0xD4},  {"~O", 0xD5},
    {"\"O", 0xD6}, {"/O", 0xD8},  {"`U", 0xD9},  {"'U", 0xDA},  {"^U", 0xDB},  {"\"U", 0xDC}, {"'Y", 0xDD},
    {"ss", 0xDF},  {"`a", 0xE0},  {"'a", 0xE1},  {"^a", 0xE2},  {"~a", 0xE3},  {"\"a", 0xE4}, {"aa", 0xE5},
    {"ae", 0xE6},  {"cc", 0xE7},  {"`e", 0xE8},  {"'e", 0xE9},  {"^e", 0xEA},  {"\"e", 0xEB}, {"`i", 0xEC},
    {"'i", 0xED},  {"^i", 0xEE},  {"\"i", 0xEF}, {"~n", 0xF1},  {"`o", 0xF2},  {"'o", 0xF3},  {"^o", 0xF4},
    {"~o", 0xF5},  {"\"o", 0xF6}, {"/o", 0xF8},  {"`u", 0xF9},  {"'u", 0xFA},  {"^u", 0xFB},  {"\"u", 0xFC},
    {"'y", 0xFD},  {"\"y", 0xFF}, {"OE", 0x152}, {"oe", 0x153}, {"vS", 0x160}, {"vs", 0x161}, {"vZ", 0x17D},
    {"vz", 0x17E}, {"vC", 0x10C}, {"vc", 0x10D},
};

struct text {
    char *out;
    size_t size, used;
};

static void put(struct text *text, uint32_t character)
{
    char bytes[3];
    size_t n = 0;
    if (character < 0x80) {
        bytes[n++] = (char)character;
    } else if (character < 0x800) {
        bytes[n++] = (char)(0xC0 | character >> 6);
        bytes[n++] = (char)(0x80 | (character & 0x3F));
    } else {
        bytes[n++] = (char)(0xE0 | character >> 12);
        bytes[n++] = (char)(0x80 | (character >> 6 & 0x3F));
        bytes[n++] = (char)(0x80 | (character & 0x3F));
    }
    if (text->used + n >= text->size) return;
    memcpy(text->out + text->used, bytes, n);
    text->used += n;
}

/* What stands behind a backslash; moves `p` behind it.  False where it means nothing. */
static bool escape(struct text *text, const char **p)
{
    char code[5] = "";
    for (size_t i = 0; i < sizeof LETTERS / sizeof *LETTERS; i++)
        if (strncmp(*p, LETTERS[i].mnemonic, 2) == 0) {
            put(text, LETTERS[i].character);
            *p += 2;
            return true;
        }
    if (**p == 'u' && strspn(*p + 1, "0123456789abcdefABCDEF") >= 4) {
        memcpy(code, *p + 1, 4);
        uint32_t character = (uint32_t)strtoul(code, NULL, 16);
        bool whole = character >= ' ' && (character < 0xD800 || character > 0xDFFF);
        if (whole) put(text, character);
        *p += 5;
        return true;
    }
    if (!**p || !strchr("\\%&\"", **p)) return false;
    put(text, (unsigned char)*(*p)++);
    return true;
}

void abc_read_text(const char *value, char *out, size_t size)
{
    struct text text = {out, size, 0};
    while (*value) {
        size_t length = us_utf8_length(value);
        if (*value == '\\') {
            value++;
            if (!escape(&text, &value)) put(&text, '\\');
        } else if (length > 1) {
            if (text.used + length >= size) break;
            memcpy(out + text.used, value, length);
            text.used += length;
            value += length;
        } else {
            put(&text, (unsigned char)*value++); /* what is no UTF-8 is taken for Latin-1 */
        }
    }
    out[text.used] = '\0';
}

void abc_write_text(FILE *to, const char *text)
{
    for (; *text; text++) {
        if (strchr("\\%&", *text)) fputc('\\', to);
        fputc(*text, to);
    }
}
