/* The JSON of `harmonize`: see DEVELOPERS.md for its fields. */
#include "harmonize_write.h"
#include "names.h"
#include "undersong/plain_line.h"

#include <string.h>

/* Control characters that a terminal would act on. */
static unsigned control_at(const unsigned char *s, size_t length)
{
    if (length == 1) return *s < 0x20 || *s == 0x7F ? *s : 0;
    return length == 2 && s[0] == 0xC2 && s[1] < 0xA0 ? s[1] : 0;
}

void write_json_string(const char *text, FILE *out)
{
    fputc('"', out);
    while (*text) {
        size_t length = us_utf8_length(text);
        unsigned control = control_at((const unsigned char *)text, length);
        if (length == 0)
            fputs("\\ufffd", out);
        else if (control)
            fprintf(out, "\\u%04x", control);
        else if (*text == '"' || *text == '\\')
            fprintf(out, "\\%c", *text);
        else
            fwrite(text, 1, length, out);
        text += length ? length : 1;
    }
    fputc('"', out);
}

/* `mode` says major or minor, by the third of the scale; `scale` names the mode. */
static void write_key(struct us_key key, FILE *out)
{
    static const char *const SCALES[US_MODES] = {"major", "minor", "dorian", "mixolydian"};
    if (key.tonic == US_NO_KEY) {
        fputs("{\"tonic\":null,\"mode\":null,\"scale\":null}", out);
        return;
    }
    bool minor = us_mode_has_minor_third((enum us_mode)key.mode);
    fprintf(out, "{\"tonic\":%d,\"mode\":\"%s\",\"scale\":\"%s\"}", key.tonic, minor ? "minor" : "major",
            SCALES[key.mode]);
}

static void write_chord(struct us_chord chord, struct us_key key, FILE *out)
{
    char name[16];
    if (chord.root == US_NO_CHORD)
        fputs("\"degree\":null,\"root\":null,\"kind\":null", out);
    else
        fprintf(out, "\"degree\":\"%s\",\"root\":%d,\"kind\":\"%s\"",
                degree_name(chord, key, name, sizeof name), chord.root,
                us_chord_kind_name((enum us_chord_kind)chord.kind));
}

static void write_alternatives(const struct harmonized *h, size_t index, struct us_key key, FILE *out)
{
    const struct us_chord_choice *c = &h->chords[index];
    const struct us_choice *choice = &c->choice;
    struct us_reason reason;
    fputs(",\"alternatives\":[", out);
    for (int i = 0; i < choice->alternatives && i < h->settings->alternatives; i++) {
        fputs(i ? ",{" : "{", out);
        write_chord(choice->alternative[i], key, out);
        us_explain_alternative(&h->explain, index, (size_t)i, c->at, c->at + c->len, &reason);
        fprintf(out, ",\"probability\":%.3f,\"because\":", choice->alternative_probability[i]);
        write_json_string(reason.text, out);
        fputc('}', out);
    }
    fputc(']', out);
}

static void write_choice(const struct harmonized *h, size_t index, FILE *out)
{
    const struct us_chord_choice *c = &h->chords[index];
    struct us_key key = us_explain_key(&h->explain, c->at);
    struct us_reason reason;
    fprintf(out, "%s\n  {\"at\":%.10g,\"len\":%.10g,", index ? "," : "", c->at, c->len);
    write_chord(c->choice.chord, key, out);
    fputs(",\"notes\":[", out);
    for (int i = 0; i < h->left[index].count; i++)
        fprintf(out, "%s%d", i ? "," : "", h->left[index].pitch[i]);
    fprintf(out, "],\"probability\":%.3f,\"given\":%s,\"because\":", c->choice.probability,
            c->given ? "true" : "false");
    us_explain_chord(&h->explain, index, c->at, c->at + c->len, &reason);
    write_json_string(reason.text, out);
    write_alternatives(h, index, key, out);
    fputc('}', out);
}

void write_harmony_json(const struct harmonized *h, FILE *out)
{
    char metre[16];
    fputs("{\"file\":", out);
    write_json_string(h->path, out);
    fputs(",\"title\":", out);
    write_json_string(h->file.tune.title, out);
    fputs(",\"key\":", out);
    write_key(h->request.key, out);
    fprintf(out, ",\"key_probability\":%.3f,\"keys\":[", h->key_sure);
    for (size_t i = 0; i < h->request.key_count; i++) {
        fprintf(out, "%s{\"at\":%.10g,\"key\":", i ? "," : "", h->keys[i].at);
        write_key(h->keys[i].key, out);
        fputc('}', out);
    }
    fprintf(out, "],\"metre\":\"%s\",\"pickup\":%.10g", us_metre_name(h->request.metre, metre, sizeof metre),
            h->request.pickup);
    fprintf(out, ",\"change\":\"%s\",\"change_probability\":%.3f,\"chords\":[",
            names_of_change[h->explain.view.change], h->explain.view.change_probability);
    for (size_t i = 0; i < h->count; i++)
        write_choice(h, i, out);
    fputs("\n]}", out);
}
