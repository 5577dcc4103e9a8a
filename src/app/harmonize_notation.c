/* The tune with its chords as notation: abc, MusicXML, LilyPond source. */
#include "harmonize_write.h"

#include <stdlib.h>
#include <string.h>

#include "undersong/abc.h"
#include "undersong/musicxml.h"
#include "undersong/plain_line.h"
#include "undersong/sheet.h"

/* The tune as loaded, but with the key, metre and chords that were worked out.  The other fields are for
   free().
 */
struct settled {
    struct us_tune tune;
    struct us_chord_span *spans;
    struct us_bar *bars;
    char *title;
};

/* The file's name without its folder and ending. */
static char *name_of(const char *path)
{
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path, *dot = strrchr(name, '.');
    char *copy = strndup(name, dot && dot != name ? (size_t)(dot - name) : strlen(name));
    return copy ? us_plain_line(copy, copy, strlen(copy) + 1) : NULL;
}

static void settled_finish(struct settled *s)
{
    free(s->spans);
    free(s->bars);
    free(s->title);
}

/* The changes of key that were heard come onto the page by its bars: the tune's own, or plain ones. */
static bool add_bars(struct settled *s, const struct harmonized *h)
{
    struct us_tune *tune = &s->tune;
    const struct us_note *last = &tune->notes[tune->note_count - 1];
    double bar = us_metre_bar_quarters(tune->metre), end = last->at + last->len, at = 0;
    size_t count = tune->bar_count ? tune->bar_count : (size_t)(end / bar) + 2;
    s->bars = calloc(count, sizeof *s->bars);
    if (!s->bars) return false;
    if (tune->bar_count) memcpy(s->bars, tune->bars, count * sizeof *s->bars);
    for (size_t i = 0; i < count && !tune->bar_count; i++) {
        double len = i == 0 && tune->pickup > 0 ? tune->pickup : bar;
        s->bars[i] = (struct us_bar){.at = at, .len = len, .written = (uint32_t)i, .metre = tune->metre};
        at += len;
        if (at > end - 1e-3) count = i + 1;
    }
    for (size_t i = 0; i < count; i++)
        s->bars[i].key = us_explain_key(&h->explain, s->bars[i].at);
    tune->bars = s->bars;
    tune->bar_count = count;
    return true;
}

static enum us_status settle(const struct harmonized *h, struct settled *s, struct us_error *error)
{
    s->bars = NULL;
    s->spans = malloc((h->count + 1) * sizeof *s->spans);
    s->title = *h->file.tune.title ? strdup(h->file.tune.title) : name_of(h->path);
    if (!s->spans || !s->title) {
        settled_finish(s);
        return us_error_no_memory(error);
    }
    struct us_tune *tune = &s->tune;
    size_t count = 0;
    for (size_t i = 0; i < h->count; i++)
        if (h->chords[i].choice.chord.root != US_NO_CHORD)
            s->spans[count++] =
                (struct us_chord_span){h->chords[i].at, h->chords[i].len, h->chords[i].choice.chord};
    *tune = h->file.tune;
    bool same_bars = us_metre_equal(tune->metre, h->request.metre) && tune->pickup == h->request.pickup;
    if (!same_bars) tune->bar_count = 0; /* the bars on the page are other ones */
    tune->key = us_explain_key(&h->explain, 0);
    tune->metre = h->request.metre;
    tune->pickup = h->request.pickup;
    tune->chords = s->spans;
    tune->title = s->title;
    tune->chord_count = count;
    if (h->request.key_count > 1 && tune->metre.top && tune->note_count && !add_bars(s, h)) {
        settled_finish(s);
        return us_error_no_memory(error);
    }
    return US_STATUS_OK;
}

enum us_status write_harmony_abc(const struct harmonized *h, FILE *out, struct us_error *error)
{
    struct settled settled;
    enum us_status status = settle(h, &settled, error);
    if (status) return status;
    status = us_abc_write(&settled.tune, h->file.number, out, error);
    settled_finish(&settled);
    return status;
}

enum us_status write_harmony_musicxml(const struct harmonized *h, FILE *out, struct us_error *error)
{
    struct settled settled;
    enum us_status status = settle(h, &settled, error);
    if (status) return status;
    status = us_musicxml_write(&settled.tune, out, error);
    settled_finish(&settled);
    return status;
}

enum us_status write_harmony_lilypond(const struct harmonized *h, FILE *out, struct us_error *error)
{
    struct settled settled;
    struct us_sheet sheet;
    const struct harmonize_settings *s = h->settings;
    struct us_sheet_settings settings = {
        .key = s->sound_in,
        .metre = h->request.metre,
        .pickup = h->request.pickup,
        .chords = (enum us_chords)s->chords,
        .change = (enum us_change)s->change,
        .texture = (enum us_texture)s->texture,
        .left_hand = true,
        .under = s->syllables ? US_SHEET_UNDER_SYLLABLES : US_SHEET_UNDER_STEPS,
        .syllables = s->syllables == US_STEPS_DO ? US_SYLLABLES_DO : US_SYLLABLES_LA};
    enum us_status status = settle(h, &settled, error);
    if (status) return status;
    status = us_sheet_arrange(&sheet, &settled.tune, &settings, h->path, error);
    if (!status) {
        us_sheet_lilypond(&sheet, 1, false, out);
        us_sheet_finish(&sheet);
    }
    settled_finish(&settled);
    return status;
}
