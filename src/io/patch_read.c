/* Patch files: INI, read with inih. */
#include "undersong/patch.h"

#include <ini.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct reading {
    struct us_patch *patch;
    struct us_error *error;
    const char *path;
    FILE *file;
    int line;
    enum us_status status;
    bool second_voice_set;
};

/* The INI reader does not tell its handler the line, so lines are counted as they are handed over. */
static char *next_line(char *out, int size, void *user)
{
    struct reading *r = user;
    char *text = fgets(out, size, r->file);
    if (text) r->line++;
    return text;
}

static bool read_number(const char *text, long low, long high, long *out)
{
    char *end;
    *out = strtol(text, &end, 10);
    return end != text && *end == 0 && *out >= low && *out <= high;
}

static bool read_text(const char *text, char *out, size_t size)
{
    return (size_t)snprintf(out, size, "%s", text) < size;
}

static bool read_change(const char *text, enum us_change *out)
{
    static const char *const NAMES[] = {"auto", "bar", "half", "beat"};
    for (int i = 0; i < 4; i++)
        if (strcmp(NAMES[i], text) == 0) {
            *out = (enum us_change)i;
            return true;
        }
    return false;
}

static bool read_yes(const char *text, bool *out)
{
    *out = strcmp(text, "yes") == 0;
    return *out || strcmp(text, "no") == 0;
}

/* What went wrong with a line: NULL for nothing. */
static const char *read_general(struct us_patch *p, const char *name, const char *value)
{
    long n;
    if (strcmp(name, "name") == 0)
        return read_text(value, p->name, sizeof p->name) ? NULL : "the name is too long; 79 letters fit";
    if (strcmp(name, "about") == 0)
        return read_text(value, p->about, sizeof p->about) ? NULL : "the text is too long; 159 letters fit";
    if (strcmp(name, "texture") == 0) {
        p->sets_texture = true;
        return us_texture_parse(value, &p->texture)
                   ? NULL
                   : "no such texture; write block, fifths, root-run, broken, waltz, drone or roots";
    }
    if (strcmp(name, "change") == 0) {
        p->sets_change = true;
        return read_change(value, &p->change) ? NULL : "write auto, bar, half or beat";
    }
    if (strcmp(name, "silent") == 0) return read_yes(value, &p->silent) ? NULL : "write yes or no";
    if (strcmp(name, "touch") == 0) {
        if (!read_number(value, 0, 100, &n)) return "give a whole number from 0 to 100";
        p->touch = (uint8_t)n;
        return NULL;
    }
    if (strcmp(name, "split") == 0) {
        if (!read_number(value, 0, 127, &n))
            return "give a MIDI note number from 1 to 127, or 0 for no split";
        p->split = (int16_t)n;
        return NULL;
    }
    return "no such setting here; write name, about, texture, change, touch, split or silent";
}

static const char *read_voice(struct us_patch_voice *v, const char *name, const char *value)
{
    static const struct {
        const char *name, *wanted;
        long low, high;
    } ROWS[] = {
        {"program", "give a General MIDI program from 1 to 128", 1, 128},
        {"octave", "give a whole number from -2 to 2", -2, 2},
        {"level", "give a whole number from 0 to 127", 0, 127},
        {"pan", "give a whole number from -100 (left) to 100 (right)", -100, 100},
        {"reverb", "give a whole number from 0 to 100", 0, 100},
    };
    for (int i = 0; i < 5; i++) {
        long n;
        if (strcmp(ROWS[i].name, name) != 0) continue;
        if (!read_number(value, ROWS[i].low, ROWS[i].high, &n)) return ROWS[i].wanted;
        switch (i) {
        case 0: v->program = (uint8_t)(n - 1); break;
        case 1: v->octave = (int8_t)n; break;
        case 2: v->level = (uint8_t)n; break;
        case 3: v->pan = (int8_t)n; break;
        default: v->reverb = (uint8_t)n; break;
        }
        return NULL;
    }
    return "no such setting here; write program, octave, level, pan or reverb";
}

static int on_line(void *user, const char *section, const char *name, const char *value)
{
    struct reading *r = user;
    const char *wrong;
    if (strcmp(section, "patch") == 0)
        wrong = read_general(r->patch, name, value);
    else if (strcmp(section, "melody") == 0)
        wrong = read_voice(&r->patch->voice[US_VOICE_MELODY], name, value);
    else if (strcmp(section, "left-hand") == 0)
        wrong = read_voice(&r->patch->voice[US_VOICE_LEFT], name, value);
    else if (strcmp(section, "second-voice") == 0) {
        r->second_voice_set = true;
        wrong = read_voice(&r->patch->voice[US_VOICE_SECOND], name, value);
    } else
        wrong = "no such section; write [patch], [melody], [left-hand] or [second-voice]";
    if (!wrong) return 1;
    if (r->status) return 0;
    r->status = us_error_set(r->error, US_STATUS_BAD_INPUT, "%.200s:%d: %.30s = %.40s: %s", r->path, r->line,
                             name, value, wrong);
    return 0;
}

static void take_id(struct us_patch *patch, const char *path)
{
    const char *slash = strrchr(path, '/'), *base = slash ? slash + 1 : path;
    const char *dot = strrchr(base, '.');
    int length = dot ? (int)(dot - base) : (int)strlen(base);
    snprintf(patch->id, sizeof patch->id, "%.*s", length, base);
    snprintf(patch->path, sizeof patch->path, "%s", path);
}

enum us_status us_patch_read(const char *path, struct us_patch *patch, struct us_error *error)
{
    us_patch_default(patch);
    take_id(patch, path);
    struct reading r = {.patch = patch, .error = error, .path = path, .file = fopen(path, "r")};
    if (!r.file)
        return us_error_set(error, US_STATUS_NOT_FOUND, "%.200s: cannot be read; check the name", path);
    int wrong_line = ini_parse_stream(next_line, &r, on_line, &r);
    fclose(r.file);
    if (wrong_line > 0 && !r.status)
        return us_error_set(error, US_STATUS_BAD_INPUT, "%.200s:%d: not a setting; write `name = value`",
                            path, wrong_line);
    if (r.status) return r.status;
    if (!patch->name[0])
        return us_error_set(error, US_STATUS_BAD_INPUT, "%.200s:1: no name; write `name = ...` under [patch]",
                            path);
    if (!r.second_voice_set) patch->voice[US_VOICE_SECOND] = patch->voice[US_VOICE_MELODY];
    return US_STATUS_OK;
}
