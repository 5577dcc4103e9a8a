/* The page: the melody on a staff as it is played, with its chords beneath; what comes next in a known tune
 * is as if pencilled in: small, thin and grey. */
#include "scene_staff.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* So many bars are seen at once, and how many of them are behind; fewer where the notes are too near one
   another otherwise. */
static const float HEAD = 0.92f;      /* a note's height, in spaces */
static const float PENCILLED = 0.72f; /* what is still to come, in parts of that */
static const float LEAST_WIDE = 4;    /* of a chord that is said again, in spaces */
enum { SIGN_ROOM = 3 };               /* of an 8 above or below a note, in places */
static const struct {
    double seen, behind;
} BARS[] = {{5, 3.2}, {3, 2.2}, {2, 1.2}};

static float x_of(const struct staff *staff, double at)
{
    return staff->area.x + (float)(at - staff->from) * staff->quarter;
}

static struct us_key written_key(const struct stage *s)
{
    return s->now->key.tonic != US_NO_KEY ? s->now->key : (struct us_key){0, US_MODE_MAJOR};
}

/* Where a note's head is.  Two that were struck one after the other never stand in one another's way, however
   near their felt places are: the later one moves on.  In a grip a second stands beside, as in engraving. */
static float head_x(const struct stage *s, const struct staff *staff, const struct us_page_note *n,
                    float before, bool first)
{
    float x = x_of(staff, (double)n->at) + staff->space * 0.8f, apart = staff->space * HEAD * 1.45f;
    if (first) return x;
    if (!n->with) return fmaxf(x, before + apart);
    int steps = staff_place(written_key(s), n->pitch) - staff_place(written_key(s), n[-1].pitch);
    return steps < -1 || steps > 1 ? before : before + staff->space * HEAD * 1.24f;
}

/* A note too far from the staff is written so many octaves nearer; there is room for a sign that says so. */
static int octaves_nearer(const struct staff *staff, int place)
{
    int octaves = 0;
    if (place > staff->high)
        while (place - 7 * octaves > staff->high - SIGN_ROOM)
            octaves++;
    if (place < staff->low)
        while (place - 7 * octaves < staff->low + SIGN_ROOM)
            octaves--;
    return octaves;
}

/* An 8 above the note sounds an octave higher, one below it an octave lower; 15 is two octaves. */
static void octave_sign(struct stage *s, const struct staff *staff, enum us_ink ink, float x, float y,
                        int octaves)
{
    char number[12];
    float size = staff->space * 1.3f, away = staff->space * 0.55f;
    snprintf(number, sizeof number, "%d", 7 * abs(octaves) + 1);
    stage_text(s, (struct area){x - size / 2, octaves > 0 ? y - away - size : y + away, size, size}, ink,
               US_TEXT_MIDDLE, false, size, number);
}

/* Low notes have room above the chords' names where the staff stands higher. */
static void make_room(struct stage *s, struct staff *staff)
{
    const struct us_page *page = &s->now->page;
    int lowest = PLACE_E4 - 3;
    staff->low = PLACE_E4 - 7;
    staff->high = PLACE_E4 + 13;
    for (int i = 0; i < page->notes; i++) {
        int place = staff_place(written_key(s), page->note[i].pitch);
        place -= 7 * octaves_nearer(staff, place);
        if (place < lowest) lowest = place;
    }
    int raised = PLACE_E4 - 3 - lowest;
    staff->bottom -= staff->space * (float)raised / 2;
    staff->high -= raised;
}

static void note(struct stage *s, const struct staff *staff, const struct us_page_note *n, float x)
{
    struct us_key key = written_key(s);
    if (x < staff->area.x + staff->space || x > staff->area.x + staff->area.w - staff->space) return;
    int octaves = octaves_nearer(staff, staff_place(key, n->pitch)), pitch = n->pitch - 12 * octaves;
    int place = staff_place(key, pitch);
    float y = staff_y(staff, place), head = staff->space * HEAD * (n->ahead ? PENCILLED : 1);
    enum us_ink ink = n->ahead ? US_INK_SOFT : US_INK_RIGHT;
    staff_ledgers(s, staff, x, place);
    staff_accidental(s, staff, x - staff->space * 1.05f, key, pitch, ink);
    if (octaves) octave_sign(s, staff, ink, x, y, octaves);
    stage_mark(s, US_MARK_OVAL, ink, (struct area){x - head * 0.62f, y - head / 2, head * 1.24f, head});
    /* How long it sounds is a line on its right, not a sign to be learnt. */
    float end = x_of(staff, (double)(n->at + n->len)), edge = staff->area.x + staff->area.w;
    if (end > edge) end = edge;
    if (end > x + head)
        stage_line(s, x + head * 0.62f, y, end, y, ink, staff->space * (n->ahead ? 0.1f : 0.22f));
}

/* Calls `use` for each note with the place of its head; returns how far one had to move on at most. */
static float each_note(struct stage *s, const struct staff *staff,
                       void (*use)(struct stage *s, const struct staff *staff, const struct us_page_note *n,
                                   float x))
{
    const struct us_page *page = &s->now->page;
    float before = 0, moved = 0;
    bool first = true;
    for (int i = 0; i < page->notes; i++) {
        const struct us_page_note *n = &page->note[i];
        if (n->ahead && !s->request->show_ahead) break;
        if ((double)n->at < staff->from) continue;
        float x = head_x(s, staff, n, before, first);
        if (!n->with) moved = fmaxf(moved, x - head_x(s, staff, n, before, true));
        if (use) use(s, staff, n, x);
        before = x;
        first = false;
    }
    return moved;
}

/* As many bars as can be seen with each note near its place. */
static void choose_bars(struct stage *s, struct staff *staff, double bar)
{
    const struct us_page *page = &s->now->page;
    double before_first = page->notes ? fmin(0, (double)page->note[0].at) : 0; /* a pickup is seen */
    for (size_t i = 0; i < sizeof BARS / sizeof *BARS; i++) {
        double line = (double)page->line, here = line + floor((double)(page->here - page->line) / bar) * bar;
        staff->quarter = (float)((double)staff->area.w / (BARS[i].seen * bar));
        staff->from = fmax(fmin(-0.25 * bar, before_first - 0.1), here - (BARS[i].behind - 1) * bar);
        if (each_note(s, staff, NULL) < staff->space * HEAD * 5)
            return; /* some were felt nearly together: no matter */
    }
}

static void chord(struct stage *s, const struct staff *staff, const struct us_page_chord *c, float width)
{
    char numeral[12];
    float x = x_of(staff, (double)c->at), size = staff->area.h * 0.17f;
    if (x < staff->area.x - 1 || x + width > staff->area.x + staff->area.w + 1) return;
    us_chord_numeral(c->chord, s->now->key, numeral, sizeof numeral);
    stage_names(s, (struct area){x, staff->area.y + staff->area.h * 0.78f, width, staff->area.h * 0.22f},
                c->ahead ? US_INK_SOFT : US_INK_LEFT, US_TEXT_LEFT, !c->ahead, size, numeral);
}

static void bar_lines(struct stage *s, const struct staff *staff, double bar)
{
    double last = staff->from + (double)(staff->area.w / staff->quarter), line = (double)s->now->page.line;
    for (double at = line + ceil((staff->from - line) / bar) * bar; at < last; at += bar) {
        float x = x_of(staff, at);
        stage_line(s, x, staff->bottom - 4 * staff->space, x, staff->bottom, US_INK_SOFT,
                   staff->space * 0.10f);
    }
}

/* The chord that began before what is seen goes on: it is said again at the left, as at the head of a line.
 */
static void chords(struct stage *s, const struct staff *staff, double bar)
{
    const struct us_page *page = &s->now->page;
    for (int i = 0; i < page->chords; i++) {
        struct us_page_chord c = page->chord[i];
        double next = i + 1 < page->chords ? (double)page->chord[i + 1].at : fmax(c.at, staff->from) + bar;
        if (next <= staff->from || (c.ahead && !s->request->show_ahead)) continue;
        bool again = (double)c.at < staff->from;
        if (again) c.at = (float)staff->from;
        float width = (float)(fmin(next - (double)c.at, bar) * (double)staff->quarter) * 0.96f;
        if (again && width < staff->space * LEAST_WIDE) continue;
        chord(s, staff, &c, width);
    }
}

void scene_page(struct stage *s, struct area a)
{
    double bar = s->now->metre.top ? us_metre_bar_quarters(s->now->metre) : 4;
    struct staff staff = {.area = a, .space = a.h * 0.095f, .bottom = a.y + a.h * 0.62f};
    make_room(s, &staff);
    staff_begin(s, &staff);
    choose_bars(s, &staff, bar);
    bar_lines(s, &staff, bar);
    each_note(s, &staff, note);
    chords(s, &staff, bar);
}
