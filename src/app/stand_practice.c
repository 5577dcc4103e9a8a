/* Practising: a phrase of the open tune round and round, the tune round the keys. */
#include "stand_parts.h"

#include "play_phrase.h"
#include "practice.h"

#include <string.h>

enum { NO_DRILL, KEYS_NEEDED };
/* Signatures, in sharps; flats are negative (the circle of fifths, any primer of theory). */
static const struct {
    int count;
    int8_t signature[12];
} CIRCLES[] = {
    {0},
    {0},
    {3, {0, -1, 1}},
    {5, {0, 1, 2, 3, 4}},
    {5, {0, -1, -2, -3, -4}},
    {12, {0, 1, 2, 3, 4, 5, 6, -5, -4, -3, -2, -1}},
    {12, {0, -5, 2, -3, 4, -1, 6, 1, -4, 3, -2, 5}}, /* half step after half step */
};

static const char *tune_path(const struct stand *s)
{
    if (s->settings->tune && !s->tune_over) return s->settings->tune;
    return *s->choices.tune ? s->choices.tune : NULL;
}

static struct us_key key_of(int signature, uint8_t mode)
{
    struct us_key key = {0, mode};
    while (us_key_signature(key) != signature && key.tonic < 11)
        key.tonic++;
    return key;
}

static void write_keys(const struct us_key *keys, int count, char *out, size_t size)
{
    char name[24];
    *out = 0;
    for (int i = 0; i < count; i++) {
        g_strlcat(out, i ? "," : "", size);
        g_strlcat(out, us_key_name(keys[i], name, sizeof name), size);
    }
}

/* As --drill takes them: in the mode of the tune, or of what is being played. */
static void keys_of(const struct stand *s, const struct us_tune *tune, char *out, size_t size)
{
    struct us_key keys[US_DRILL_KEYS_MAX], like = tune ? tune->key : s->seen.key;
    if (like.tonic == US_NO_KEY) like.mode = US_MODE_MAJOR;
    if (s->choices.drill == KEYS_NEEDED) {
        struct practice practice;
        struct us_drill drill;
        practice_read(tune, &practice);
        practice_drill(&practice, &drill);
        write_keys(drill.keys, drill.count, out, size);
        return;
    }
    int count = CIRCLES[s->choices.drill].count;
    for (int i = 0; i < count; i++)
        keys[i] = key_of(CIRCLES[s->choices.drill].signature[i], like.mode);
    write_keys(keys, count, out, size);
}

const char *stand_practice_keys(struct stand *s)
{
    struct stand_practice *p = &s->practice;
    const char *path = tune_path(s);
    struct us_tune_file file;
    struct us_error ignored;
    if (s->choices.drill == NO_DRILL) {
        *p->keys = 0; /* chosen again, they are found anew */
        return NULL;
    }
    /* Another sound or another port does not change what is practised. */
    if (*p->keys && p->drill == s->choices.drill && g_strcmp0(p->tune, path) == 0) return p->keys;
    bool known = path && us_tune_load_number(path, 0, &file, &ignored) == US_STATUS_OK;
    keys_of(s, known ? &file.tune : NULL, p->keys, sizeof p->keys);
    if (known) us_tune_file_finish(&file);
    p->drill = s->choices.drill;
    g_free(p->tune);
    p->tune = g_strdup(path);
    return p->keys;
}

static const struct known_tune *open_tune(const struct stand *s)
{
    const struct live_play *live = s->session.live;
    return live && live->setup.tune_path && live->setup.tunes.count ? live->setup.tunes.tunes[0] : NULL;
}

static void add_part(struct stand_parts *now, const struct known_tune *tune, int from, int to)
{
    struct stand_part *row = &now->row[now->rows];
    struct us_loop_part part;
    struct us_error ignored;
    char name[40], bars[40];
    if (now->rows == STAND_PARTS_MAX) return;
    g_snprintf(row->phrase, sizeof row->phrase, from == to ? "%d" : "%d-%d", from, to);
    if (play_phrase(row->phrase, "", tune, &part, &ignored)) return;
    g_snprintf(row->words, sizeof row->words, "%s, %s", us_loop_part_name(&part, name, sizeof name),
               us_loop_bars(&part, bars, sizeof bars));
    row->from_bar = part.from_bar;
    row->to_bar = part.to_bar;
    now->rows++;
}

/* The whole tune, each phrase, and each with the one after it. */
static void list_parts(const struct known_tune *tune, struct stand_parts *now)
{
    int phrases = tune ? (int)tune->phrase_count : 0;
    memset(now, 0, sizeof *now);
    g_strlcpy(now->row[0].words, tune ? "the whole tune" : "no tune is open", sizeof now->row[0].words);
    now->rows = 1;
    for (int i = 1; i <= phrases && phrases > 1; i++)
        add_part(now, tune, i, i);
    for (int i = 1; i < phrases && phrases > 2; i++)
        add_part(now, tune, i, i + 1);
}

void stand_practice_follow(struct stand *s)
{
    struct stand_practice *p = &s->practice;
    static struct stand_parts now;
    const char *words[STAND_PARTS_MAX + 1] = {NULL};
    guint chosen = 0;
    list_parts(open_tune(s), &now);
    for (int i = 0; i < now.rows; i++) {
        words[i] = now.row[i].words;
        if (strcmp(now.row[i].phrase, s->choices.phrase) == 0) chosen = (guint)i;
    }
    s->controls.following = true;
    /* The list is left alone where nothing has changed: it may be open. */
    if (memcmp(&now, &p->parts, sizeof now) != 0) {
        p->parts = now;
        gtk_string_list_splice(p->words, 0, g_list_model_get_n_items(G_LIST_MODEL(p->words)), words);
    }
    gtk_drop_down_set_selected(GTK_DROP_DOWN(p->phrases), chosen);
    s->controls.following = false;
}

int stand_practice_row(const struct stand *s, int bar)
{
    const struct stand_parts *parts = &s->practice.parts;
    for (int i = 1; i < parts->rows && bar > 0; i++)
        if (bar >= parts->row[i].from_bar && bar <= parts->row[i].to_bar) return i;
    return 0;
}

void stand_practice_choose(struct stand *s, int row)
{
    gtk_drop_down_set_selected(GTK_DROP_DOWN(s->practice.phrases), (guint)row);
}

static void on_phrase(GObject *drop, GParamSpec *what, void *user)
{
    struct stand *s = user;
    guint at = gtk_drop_down_get_selected(GTK_DROP_DOWN(drop));
    if (s->controls.following || at >= (guint)s->practice.parts.rows) return;
    g_strlcpy(s->choices.phrase, s->practice.parts.row[at].phrase, sizeof s->choices.phrase);
    stand_session_again(s);
}

GtkWidget *stand_practice_build(struct stand *s)
{
    s->practice.words = gtk_string_list_new(NULL);
    s->practice.phrases = gtk_drop_down_new(G_LIST_MODEL(s->practice.words), NULL);
    stand_practice_follow(s);
    g_signal_connect(s->practice.phrases, "notify::selected", G_CALLBACK(on_phrase), s);
    return s->practice.phrases;
}

void stand_practice_finish(struct stand *s)
{
    g_free(s->practice.tune);
    s->practice.tune = NULL;
}
