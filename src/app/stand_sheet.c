/* The sheet of the open tune, to take home: written by the command `sheet`, with the left hand and in the key
   that are played now. */
#include "stand_parts.h"

#include "names.h"

#include <gio/gio.h>
#include <string.h>

/* The last of what was said on standard error, without the program's name. */
static char *reason(char *said)
{
    char *line = strrchr(g_strstrip(said), '\n');
    line = line ? line + 1 : said;
    return g_str_has_prefix(line, "undersong: ") ? line + strlen("undersong: ") : line;
}

static void on_written(GObject *process, GAsyncResult *result, void *user)
{
    struct stand **reader = user, *s = *reader;
    char *said = NULL;
    GError *error = NULL;
    bool ran = g_subprocess_communicate_utf8_finish(G_SUBPROCESS(process), result, NULL, &said, &error);
    bool good = ran && g_subprocess_get_successful(G_SUBPROCESS(process));
    if (s)
        stand_say(s, good                   ? "the sheet is written"
                     : ran && said && *said ? reason(said)
                                            : "the sheet could not be written");
    g_clear_error(&error);
    g_free(said);
    g_atomic_rc_box_release(reader);
}

static void write_sheet(struct stand *s, const char *open_tune, const char *to)
{
    g_autofree char *tune = g_canonicalize_filename(open_tune, NULL); /* "-x.abc" is no option then */
    char key[24];
    bool known = s->seen.knows_tune && s->seen.key.tonic != US_NO_KEY;
    const char *words[] = {"/proc/self/exe", /* also where another version has been installed meanwhile */
                           "sheet",
                           "--to",
                           to,
                           "--texture",
                           names_of_texture[s->seen.texture],
                           "--chords",
                           names_of_chords[s->choices.chords],
                           "--change",
                           names_of_change[s->choices.change],
                           "--fingering",
                           tune,
                           known ? "--keys" : NULL,
                           us_key_name(s->seen.key, key, sizeof key),
                           NULL};
    GError *error = NULL;
    GSubprocess *process =
        g_subprocess_newv(words, G_SUBPROCESS_FLAGS_STDOUT_SILENCE | G_SUBPROCESS_FLAGS_STDERR_PIPE, &error);
    if (!process) {
        stand_say(s, error->message);
        g_error_free(error);
        return;
    }
    stand_say(s, "writing the sheet\xE2\x80\xA6");
    g_subprocess_communicate_utf8_async(process, NULL, NULL, on_written, g_atomic_rc_box_acquire(s->reader));
    g_object_unref(process);
}

static void take_name(struct stand *s, const char *path)
{
    if (stand_tune(s)) write_sheet(s, stand_tune(s), path);
}

/* After the tune; as pages to print where there is something to engrave them with. */
static char *name_of(const char *tune)
{
    char *base = g_filename_display_basename(tune), *dot = strrchr(base, '.'),
         *engraver = g_find_program_in_path("lilypond");
    if (dot) *dot = 0;
    char *name = g_strdup_printf("%s-sheet.%s", base, engraver ? "pdf" : "txt");
    g_free(engraver);
    g_free(base);
    return name;
}

void stand_save_sheet(struct stand *s)
{
    const char *tune = stand_tune(s);
    if (!tune) {
        stand_say(s, "open a tune first: the sheet is of an open tune");
        return;
    }
    char *name = name_of(tune);
    stand_ask_save(s, "Save a sheet to take home", name, take_name);
    g_free(name);
}
