/* The whole tune: the chord of each beat, given everything before and after it. */
#include <math.h>
#include <string.h>

#include "harmony_chain.h"
#include "harmony_decide.h"
#include "harmony_frame.h"
#include "harmony_net.h"
#include "harmony_phrase.h"
#include "harmony_rate.h"
#include "harmony_units.h"

enum {
    IN = US_NET_IN,
    HIDDEN = US_NET_HIDDEN,
    OUT = US_NET_OUT,
    CLASSES = US_HARMONY_CLASSES,
    ROLES = US_HARMONY_ROLES
};
/* How much the habits of chord after chord count beside what the networks hear, in the wide vocabulary. */
static const double MOVE_SHARE = 0.3;

/* The caller's workspace, cut up. */
struct work {
    const struct us_harmony_request *request;
    const struct us_harmony_tables *tables;
    struct us_grid grid;
    struct us_beat_view *views;
    double *role;  /* count * ROLES */
    double *class; /* count * CLASSES */
    float *out;    /* count * OUT */
    float *frames, *scratch;
    uint32_t *codes;
    double *cost;           /* of a change at each beat */
    uint8_t *way;           /* the role or chord decided for each beat */
    uint8_t *back;          /* count * CLASSES */
    struct us_chord *given; /* root US_NO_CHORD where none is */
    double move[CLASSES][CLASSES];
    float style;
    enum us_change rate;   /* where it was found: US_CHANGE_AUTO otherwise */
    float rates[US_RATES]; /* the probability of each */
};

static size_t rounded(size_t bytes)
{
    return (bytes + 15) / 16 * 16;
}

/* Cuts the workspace, or only counts its bytes where `at` is NULL. */
static size_t cut(struct work *w, size_t n, char *at)
{
    size_t size = 0;
    struct {
        void **place;
        size_t bytes;
    } parts[] = {
        {(void **)&w->views, n * sizeof *w->views},
        {(void **)&w->role, n * ROLES * sizeof(double)},
        {(void **)&w->class, n * CLASSES * sizeof(double)},
        {(void **)&w->out, n * OUT * sizeof(float)},
        {(void **)&w->frames, n * IN * sizeof(float)},
        {(void **)&w->scratch, 2 * n * HIDDEN * sizeof(float)},
        {(void **)&w->codes, n * sizeof *w->codes},
        {(void **)&w->given, n * sizeof *w->given},
        {(void **)&w->cost, n * sizeof *w->cost},
        {(void **)&w->way, n * sizeof *w->way},
        {(void **)&w->back, n * CLASSES * sizeof *w->back},
    };
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        if (at) *parts[i].place = at + size;
        size += rounded(parts[i].bytes);
    }
    return size;
}

size_t us_harmony_workspace_size(const struct us_harmony_request *request)
{
    struct work none;
    return rounded(sizeof(struct work)) + cut(&none, us_harmony_beats(request) + 1, NULL);
}

static void prepare(struct work *w, size_t t)
{
    const struct us_harmony_request *r = w->request;
    struct us_beat_view *view = &w->views[t];
    memset(view, 0, sizeof *view);
    view->at = us_grid_at(&w->grid, t);
    view->len = us_grid_at(&w->grid, t + 1) - view->at;
    us_grid_position(&w->grid, r, t, &view->position);
    view->key = us_harmony_key_at(r, view->at);
    view->may_change = us_harmony_may_change(r->change, &view->position);
    w->given[t] = us_chord_at(r->fixed, r->fixed_count, view->at);
    if (w->given[t].root == US_NO_CHORD && !r->ignore_tune_chords)
        w->given[t] = us_chord_at(r->tune->chords, r->tune->chord_count, view->at);
    w->codes[t] = us_beat_code(&w->frames[t * IN]);
}

/* The same melody is heard the same way each time: what the networks say is shared among its returns. */
static void share_returns(struct work *w)
{
    for (size_t t = 0; t < w->grid.count; t++) {
        if (w->views[t].same_as >= 0) continue;
        float sum[OUT], times = 1;
        memcpy(sum, &w->out[t * OUT], sizeof sum);
        for (size_t k = t + 1; k < w->grid.count; k++) {
            if (w->views[k].same_as != (int32_t)t) continue;
            times++;
            for (size_t i = 0; i < OUT; i++)
                sum[i] += w->out[k * OUT + i];
        }
        for (size_t k = t; times > 1 && k < w->grid.count; k++)
            if (k == t || w->views[k].same_as == (int32_t)t)
                for (size_t i = 0; i < OUT; i++)
                    w->out[k * OUT + i] = sum[i] / times;
    }
}

static void listen(struct work *w)
{
    const struct us_harmony_request *r = w->request;
    size_t n = w->grid.count;
    float clues[US_STYLE_CLUES];
    w->style = us_style_of_tune(r->tune, r->key, r->metre, n, w->tables->style_whole, clues);
    us_frames_of_tune(r, &w->grid, w->style, w->frames);
    memset(w->out, 0, n * OUT * sizeof(float));
    for (int k = 0; k < US_WHOLE_NETS; k++)
        us_net_whole(&w->tables->whole[k], w->frames, n, w->scratch, w->out);
    for (size_t i = 0; i < n * OUT; i++)
        w->out[i] /= US_WHOLE_NETS;
}

/* ---- roles */
static bool is_given(const struct work *w, size_t t)
{
    return w->given[t].root != US_NO_CHORD;
}

static enum us_role role_of(int state)
{
    return (enum us_role)(US_ROLE_I + state);
}

static const float *class_outs(const struct work *w, size_t t)
{
    return &w->out[t * OUT + US_OUT_CLASS];
}

/* The step that is struck, or held, as a beat begins, in semitones above the tonic; -1 in a rest. */
static int struck_step(const struct work *w, size_t t)
{
    return us_frame_step(&w->frames[t * IN], US_FRAME_START);
}

static double role_here(const void *user, size_t t, int role)
{
    const struct work *w = user;
    if (is_given(w, t)) {
        enum us_role given = us_chord_role(w->given[t], w->views[t].key);
        if (given != US_ROLE_NONE) return (int)given == role + US_ROLE_I;
    }
    double said = exp((double)w->out[t * OUT + US_OUT_ROLE + (size_t)role]);
    int step = w->request->chords == US_CHORDS_PRIMARY ? struck_step(w, t) : -1, other;
    if (step < 0) return said;
    struct us_key key = w->views[t].key;
    bool rubs = us_harmony_rubs(key, role_of(role), step);
    double own = rubs ? us_harmony_own_share(class_outs(w, t), key, role_of(role), &other) : 1;
    return said * us_harmony_welcome(key, role_of(role), step, own);
}

static double role_move(const void *user, size_t t, int from, int to)
{
    const struct work *w = user;
    return exp((double)w->out[t * OUT + US_OUT_PAIR + (size_t)(from * ROLES + to)]);
}

/* ---- chords of the wide vocabulary */
static double class_here(const void *user, size_t t, int class)
{
    const struct work *w = user;
    return w->class[t * CLASSES + (size_t) class];
}

static double class_move(const void *user, size_t t, int from, int to)
{
    const struct work *w = user;
    return w->move[from][to];
}

/* What the networks say of each chord, in step with what the chain says of the roles. */
static void class_evidence(struct work *w, size_t t)
{
    double *p = &w->class[t * CLASSES], of_role[US_ROLES] = {0};
    float said[CLASSES];
    struct us_key key = w->views[t].key;
    memcpy(said, class_outs(w, t), sizeof said);
    us_softmax(said, CLASSES);
    memset(p, 0, CLASSES * sizeof *p);
    if (is_given(w, t)) {
        p[us_class_of(w->given[t], key)] = 1;
        return;
    }
    for (int i = 0; i < CLASSES; i++) {
        int fold = us_class_fold(i, key);
        if (fold >= 0) p[fold] += (double)said[i] + 1e-6;
    }
    for (int i = 0; i < CLASSES; i++)
        of_role[us_class_role(i, key)] += p[i];
    for (int i = 0; i < CLASSES; i++) {
        enum us_role role = us_class_role(i, key);
        if (role != US_ROLE_NONE) p[i] *= w->views[t].role[role] / (of_role[role] + 1e-9);
    }
}

static void judge_classes(struct work *w)
{
    bool minor = us_mode_has_minor_third((enum us_mode)w->request->key.mode);
    for (int i = 0; i < CLASSES; i++)
        for (int k = 0; k < CLASSES; k++)
            w->move[i][k] = exp(MOVE_SHARE * (double)w->tables->class_move[minor][i][k]);
    for (size_t t = 0; t < w->grid.count; t++)
        class_evidence(w, t);
    struct us_chain chain = {w->grid.count, CLASSES, class_here, class_move, w};
    us_chain_judge(&chain, (double *)(void *)w->scratch);
    memcpy(w->class, w->scratch, w->grid.count * CLASSES * sizeof(double));
}

/* What the beat's own notes say, for the reasons: the share of the beat in which each triad's notes sound. */
static void melody_says(const float *frame, struct us_key key, double melody[US_ROLES])
{
    double sum = 0;
    for (int r = US_ROLE_I; r < US_ROLES; r++) {
        us_pcset tones = us_chord_tones(us_chord_primary(key, (enum us_role)r));
        melody[r] = 0.05;
        for (int i = 0; i < US_PITCH_CLASSES; i++)
            if (us_pcset_has(tones, key.tonic + i)) melody[r] += frame[US_FRAME_SHARE + i];
        sum += melody[r];
    }
    for (int r = US_ROLE_I; r < US_ROLES; r++)
        melody[r] /= sum;
}

static void judge_roles(struct work *w)
{
    struct us_chain chain = {w->grid.count, ROLES, role_here, role_move, w};
    us_chain_judge(&chain, w->role);
    for (size_t t = 0; t < w->grid.count; t++) {
        struct us_beat_view *view = &w->views[t];
        for (int r = 0; r < ROLES; r++)
            view->role[r + US_ROLE_I] = w->role[t * ROLES + (size_t)r];
        melody_says(&w->frames[t * IN], view->key, view->melody);
    }
}

/* ---- how often chords change */
static void gather_rate_clues(const struct work *w, struct us_rate_clues *clues)
{
    us_rate_start(clues);
    for (size_t t = 0; t < w->grid.count; t++) {
        const struct us_beat_view *view = &w->views[t];
        if (!view->position.on_beat) continue;
        us_rate_begin_beat(clues, &view->position, &w->frames[t * IN], view->role);
        us_rate_end_beat(clues, view->key, &w->frames[t * IN]);
    }
}

static void find_rate(struct work *w)
{
    const struct us_harmony_request *r = w->request;
    struct us_rate_clues clues;
    float x[US_RATE_CLUES];
    int best = 0;
    gather_rate_clues(w, &clues);
    us_rate_numbers(&clues, r->metre, r->key, w->style, x);
    us_rate_judge(w->tables->rate_whole, x, r->metre, w->rates);
    for (int i = 1; i < US_RATES; i++)
        if (w->rates[i] > w->rates[best]) best = i;
    w->rate = (enum us_change)(US_CHANGE_BAR + best);
}

static bool is_wide(const struct work *w)
{
    return w->request->chords == US_CHORDS_WIDE;
}

/* Where chords do not change by the beat, the beats between speak together; hymns change all the same. */
static void heed_rate(struct work *w)
{
    double share = (double)((w->rates[0] + w->rates[1]) * (1 - w->style));
    us_units_speak(w->views, w->given, w->grid.count, share, w->role, ROLES);
    if (is_wide(w)) us_units_speak(w->views, w->given, w->grid.count, share, w->class, CLASSES);
}

/* ---- the chords themselves */
static void decide(struct work *w)
{
    double *p = is_wide(w) ? w->class : w->role;
    int states = is_wide(w) ? CLASSES : ROLES;
    for (size_t t = 0; t < w->grid.count; t++) {
        const struct us_beat_view *view = &w->views[t];
        bool given = is_given(w, t) || (t && is_given(w, t - 1));
        bool bound = !given && !view->may_change;
        w->cost[t] = bound ? INFINITY : given ? 0 : us_rate_cost(w->rates, &view->position, w->style);
    }
    us_decide(p, w->cost, w->grid.count, states, w->back, w->way);
}

/* A seventh chord that was given goes on as such where its triad would follow. */
static struct us_chord carried(const struct work *w, size_t t, struct us_chord triad)
{
    size_t from = t;
    while (from > 0 && !is_given(w, from) && w->way[from] == w->way[t])
        from--;
    struct us_chord given = w->given[from];
    bool same = is_given(w, from) && given.root == triad.root && w->way[from] == w->way[t];
    return same && given.kind == US_CHORD_DOM7 && triad.kind == US_CHORD_MAJ ? given : triad;
}

static struct us_chord chord_of(const struct work *w, size_t t)
{
    struct us_key key = w->views[t].key;
    if (is_given(w, t)) return w->given[t];
    if (is_wide(w)) return us_class_chord(w->way[t], key, w->tables);
    enum us_role role = w->request->chords == US_CHORDS_I ? US_ROLE_I : role_of(w->way[t]);
    return carried(w, t, us_chord_primary(key, role));
}

/* The chord that a beat's triad stands in for, where that is likelier than the triad itself. */
static struct us_chord meant_at(const struct work *w, size_t t)
{
    int other;
    bool primary = w->request->chords == US_CHORDS_PRIMARY && !is_given(w, t);
    struct us_key key = w->views[t].key;
    if (!primary || us_harmony_own_share(class_outs(w, t), key, role_of(w->way[t]), &other) >= 0.5 ||
        other < 0)
        return (struct us_chord){US_NO_CHORD, US_CHORD_MAJ};
    return us_class_chord(other, key, w->tables);
}

/* How many beats from `from` on keep its chord. */
static size_t span_of(struct work *w, size_t from)
{
    size_t until = from;
    struct us_chord chord = chord_of(w, from);
    for (; until < w->grid.count; until++) {
        struct us_chord next = chord_of(w, until);
        if (!us_chord_equal(next, chord) || is_given(w, until) != is_given(w, from)) break;
        w->views[until].chord = chord;
        w->views[until].meant = meant_at(w, until);
    }
    return until - from;
}

/* The probabilities of a chord's beats, taken together. */
static void choose_span(const struct work *w, size_t from, size_t count, struct us_choice *choice)
{
    static const double ABOVE_ALL = 1e-9;
    double role[US_ROLES] = {0}, class[CLASSES] = {0};
    for (size_t t = from; t < from + count; t++) {
        for (int r = 0; r < ROLES; r++)
            role[US_ROLE_I + r] += w->role[t * ROLES + (size_t)r] / (double)count;
        for (size_t i = 0; is_wide(w) && i < CLASSES; i++)
            class[i] += w->class[t * CLASSES + i] / (double)count;
    }
    if (is_wide(w))
        class[w->way[from]] += ABOVE_ALL;
    else
        role[US_ROLE_I + w->way[from]] += ABOVE_ALL;
    us_harmony_choose(role, is_wide(w) ? class : NULL, w->views[from].key, w->request->chords, w->tables,
                      choice);
    choice->chord = chord_of(w, from);
    if (!is_given(w, from)) return;
    choice->probability = 1;
    choice->alternatives = 0;
}

static size_t gather(struct work *w, struct us_chord_choice *out, size_t max)
{
    size_t chords = 0;
    for (size_t t = 0, count; t < w->grid.count; t += count) {
        count = span_of(w, t);
        if (chords >= max) continue;
        const struct us_beat_view *first = &w->views[t], *last = &w->views[t + count - 1];
        out[chords] = (struct us_chord_choice){
            .at = first->at, .len = last->at + last->len - first->at, .given = is_given(w, t)};
        choose_span(w, t, count, &out[chords++].choice);
    }
    return chords;
}

size_t us_harmony_tune(const struct us_harmony_request *request, void *workspace, struct us_chord_choice *out,
                       size_t max, struct us_harmony_view *view)
{
    struct work *w = workspace;
    w->request = request;
    w->rate = US_CHANGE_AUTO;
    memset(w->rates, 0, sizeof w->rates);
    w->tables = request->tables ? request->tables : &us_harmony_built_in;
    us_grid_make(&w->grid, request);
    cut(w, w->grid.count + 1, (char *)workspace + rounded(sizeof *w));
    listen(w);
    for (size_t t = 0; t < w->grid.count; t++)
        prepare(w, t);
    us_phrases_find(request->tune, &w->grid, w->codes, w->views);
    share_returns(w);
    judge_roles(w);
    if (request->change == US_CHANGE_AUTO && request->metre.top) find_rate(w);
    bool found = w->rate != US_CHANGE_AUTO;
    if (is_wide(w)) judge_classes(w);
    if (found) heed_rate(w);
    decide(w);
    if (view)
        *view = (struct us_harmony_view){w->views, w->grid.count, found ? w->rate : request->change,
                                         found ? (double)w->rates[w->rate - US_CHANGE_BAR] : 1};
    return gather(w, out, max);
}
