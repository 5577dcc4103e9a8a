/* What holds however anybody plays: the companion hears a player who walks through a key, strikes two keys at
   a time, stumbles, rests, goes back and turns its switches, and hears the same once more in a way that
   should change nothing.  Fixed seeds. */
#include "lesson.h"

#include "../src/core/companion_state.h"

enum { NOTES = 60, EVENTS_MAX = 8 * NOTES, SEEDS = 24 };
static const int64_t MS = 1000000;

struct player {
    uint32_t random;
    bool switches; /* also turns the switches, presses panic, and goes on far below */
    struct us_event event[EVENTS_MAX];
    size_t count;
};

static int any(struct player *p, int below)
{
    p->random = p->random * 1103515245u + 12345u;
    return (int)((p->random >> 16) % (uint32_t)below);
}

static bool chance(struct player *p, int percent)
{
    return any(p, 100) < percent;
}

/* In order of time; what comes later in the same moment was said later. */
static void add(struct player *p, struct us_event event)
{
    ck_assert_uint_lt(p->count, EVENTS_MAX);
    size_t i = p->count++;
    for (; i > 0 && p->event[i - 1].at_ns > event.at_ns; i--)
        p->event[i] = p->event[i - 1];
    p->event[i] = event;
}

static void add_note(struct player *p, int64_t at_ns, int64_t length_ns, int pitch)
{
    struct us_event key = {.at_ns = at_ns, .kind = US_EVENT_NOTE_ON, .pitch = (uint8_t)pitch};
    key.velocity = (uint8_t)(40 + any(p, 60));
    add(p, key);
    key.at_ns += length_ns;
    key.kind = US_EVENT_NOTE_OFF;
    add(p, key);
}

static void turn_a_switch(struct player *p, int64_t at_ns)
{
    static const int VALUES[][2] = {/* how many, from where on */
                                    [US_CONTROL_NEXT_TEXTURE] = {1, 0},
                                    [US_CONTROL_TEXTURE] = {US_TEXTURES, 0},
                                    [US_CONTROL_KEY_LOCK] = {3, 0},
                                    [US_CONTROL_LEFT_HAND] = {3, 0},
                                    [US_CONTROL_SHARE] = {102, US_SHARE_AUTO},
                                    [US_CONTROL_CHANGE] = {4, 0},
                                    [US_CONTROL_CHORDS] = {3, 0},
                                    [US_CONTROL_SECOND_VOICE] = {4, 0},
                                    [US_CONTROL_SOUND_SHIFT] = {25, -12},
                                    [US_CONTROL_TAP] = {1, 0}};
    struct us_event event = {.at_ns = at_ns, .kind = US_EVENT_CONTROL};
    event.control = (uint8_t)any(p, US_CONTROL_TAP + 1);
    event.value = VALUES[event.control][1] + any(p, VALUES[event.control][0]);
    if (chance(p, 10)) event.kind = US_EVENT_PANIC;
    add(p, event);
}

/* Where the player's walk is: a step of the scale, and when. */
struct walk {
    struct us_key key;
    int step;
    int64_t at_ns, quarter_ns;
};

static int pitch_at(const struct walk *w)
{
    return 57 + w->key.tonic + us_mode_step_semitones((enum us_mode)w->key.mode, w->step % 7 + 1) +
           12 * (w->step / 7);
}

static void walk_on(struct player *p, struct walk *w)
{
    static const double LENGTHS[] = {1, 1, 1, 0.5, 0.5, 2, 1.5, 3};
    int64_t length_ns = (int64_t)(LENGTHS[any(p, 8)] * (double)w->quarter_ns);
    int64_t at_ns = w->at_ns + any(p, 20) * MS;
    w->step = abs(w->step + any(p, 5) - 2) % 10;
    add_note(p, at_ns, length_ns * (60 + any(p, 50)) / 100, pitch_at(w));
    int other = pitch_at(w) + (chance(p, 50) ? 3 : -8) + any(p, 6);
    if (chance(p, 20)) add_note(p, at_ns + any(p, 30) * MS, length_ns * 4 / 5, other);
    if (p->switches && chance(p, 15)) add_note(p, at_ns, length_ns, 36 + any(p, 16));
    if (p->switches && chance(p, 10)) turn_a_switch(p, at_ns + any(p, 400) * MS);
    if (chance(p, 5))
        add(p, (struct us_event){.at_ns = at_ns, .kind = US_EVENT_PEDAL, .value = any(p, 2) * 127});
    w->at_ns += length_ns;
    if (chance(p, 3)) w->at_ns += any(p, 1500) * MS;
    if (chance(p, 2)) w->at_ns += any(p, 9000) * MS;
    if (chance(p, 2)) w->key.tonic = (int8_t)any(p, 12);
}

static struct player *compose(int seed, bool switches)
{
    struct player *p = calloc(1, sizeof *p);
    p->random = (uint32_t)seed * 2654435761u;
    p->switches = switches;
    struct walk w = {.key = {(int8_t)any(p, 12), (uint8_t)any(p, US_MODES)}, .step = any(p, 8)};
    w.quarter_ns = (350 + any(p, 500)) * MS;
    for (int i = 0; i < NOTES; i++)
        walk_on(p, &w);
    return p;
}

static struct us_companion_settings any_settings(struct player *p)
{
    struct us_companion_settings s = plain(chance(p, 50) ? "3/4" : NULL, chance(p, 50) ? 0 : -1);
    s.texture = (enum us_texture)any(p, US_TEXTURES);
    s.chords = (enum us_chords)any(p, 3);
    s.change = (enum us_change)any(p, 4);
    s.second_voice = (enum us_second_voice)any(p, 4);
    s.round_bars = 1 + any(p, 3);
    if (chance(p, 30)) s.key = (struct us_key){(int8_t)any(p, 12), (uint8_t)any(p, US_MODES)};
    if (p->switches) s.share = any(p, 101);
    return s;
}

/* What is done otherwise the second time, and should change nothing else. */
struct variant {
    const char *name;
    int64_t later_ns;
    int up;
    bool more_ticks, goes_on, switches;
};

static void tick_between(struct lesson *l, struct player *p, int64_t until_ns)
{
    for (int i = 0; i < 3 && until_ns - l->now_ns > 5 * MS; i++) {
        int64_t span_ms = (until_ns - l->now_ns) / MS;
        wait_until(l, l->now_ns + any(p, (int)(span_ms < 2000 ? span_ms : 2000)) * MS);
        send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_TICK});
    }
}

/* Both are cut off in the middle: one by a panic, the other by going on. */
static void cut(struct lesson *l, const struct us_companion_settings *s, bool goes_on)
{
    if (goes_on)
        us_companion_go_on(l->companion, s);
    else
        send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_PANIC});
    l->heard.count = 0;
}

static void play_all(struct lesson *l, struct player *p, const struct us_companion_settings *s,
                     const struct variant *v, bool varied)
{
    for (size_t i = 0; i < p->count; i++) {
        struct us_event event = p->event[i];
        bool key = event.kind == US_EVENT_NOTE_ON || event.kind == US_EVENT_NOTE_OFF;
        if (varied) event.at_ns += v->later_ns;
        if (varied && key) event.pitch = (uint8_t)(event.pitch + v->up);
        if (varied && v->more_ticks) tick_between(l, p, event.at_ns);
        wait_until(l, event.at_ns - 1);
        l->now_ns = event.at_ns;
        send(l, event);
        if (v->goes_on && i == p->count / 2) cut(l, s, varied);
    }
    leave(l);
}

static int moved(int pitch_class, int up)
{
    return pitch_class < 0 ? pitch_class : us_pitch_class(pitch_class + up);
}

/* How the left hand lies depends on where its register ends. */
static bool is_left_note(const struct us_action *a)
{
    return a->voice == US_VOICE_LEFT && (a->kind == US_ACTION_NOTE_ON || a->kind == US_ACTION_NOTE_OFF);
}

static bool same(const struct us_action *a, const struct us_action *b, const struct variant *v)
{
    bool note = a->kind == US_ACTION_NOTE_ON || a->kind == US_ACTION_NOTE_OFF;
    return a->kind == b->kind && a->voice == b->voice && a->at_ns + v->later_ns == b->at_ns &&
           a->pitch + (note ? v->up : 0) == b->pitch && a->velocity == b->velocity && a->bar == b->bar &&
           a->value == b->value &&
           moved(a->chord.root, a->kind == US_ACTION_CHORD ? v->up : 0) == b->chord.root &&
           a->chord.kind == b->chord.kind &&
           (a->kind != US_ACTION_KEY ||
            (moved(a->key.tonic, v->up) == b->key.tonic && a->key.mode == b->key.mode)) &&
           us_metre_equal(a->metre, b->metre);
}

static void leave_out_left(struct heard *h)
{
    size_t kept = 0;
    for (size_t i = 0; i < h->count; i++)
        if (!is_left_note(&h->list[i])) h->list[kept++] = h->list[i];
    h->count = kept;
}

static void compare(struct lesson *once, struct lesson *again, const struct variant *v, int seed)
{
    if (v->up) {
        leave_out_left(&once->heard);
        leave_out_left(&again->heard);
    }
    ck_assert_uint_gt(once->heard.count, NOTES);
    for (size_t i = 0; i < once->heard.count && i < again->heard.count; i++)
        MUST(same(&once->heard.list[i], &again->heard.list[i], v),
             "%s, seed %d: action %zu at %lld ns is another", v->name, seed, i,
             (long long)once->heard.list[i].at_ns);
    ck_assert_uint_eq(once->heard.count, again->heard.count);
}

static const struct variant VARIANTS[] = {
    {.name = "three hours later", .later_ns = 10800000 * MS, .switches = true},
    {.name = "higher", .up = 4},
    {.name = "lower", .up = -3},
    {.name = "more ticks", .more_ticks = true},
    {.name = "gone on", .goes_on = true},
};
enum { VARIANT_COUNT = sizeof VARIANTS / sizeof *VARIANTS };

START_TEST(variant_changes_nothing_else)
{
    const struct variant *v = &VARIANTS[_i];
    for (int seed = 1; seed <= SEEDS; seed++) {
        struct player *p = compose(seed, v->switches);
        struct us_companion_settings s = any_settings(p), other = s;
        other.key.tonic = (int8_t)moved(s.key.tonic, v->up);
        struct lesson *once = begin(&s), *again = begin(&other);
        again->now_ns = v->later_ns;
        play_all(once, p, &s, v, false);
        play_all(again, p, &other, v, true);
        compare(once, again, v, seed);
        end(once);
        end(again);
        free(p);
    }
}
END_TEST

/* What the left hand stays below: the player's last grip, else the lowest key of the melody. */
static int ceiling_of(const struct us_companion *c)
{
    if (us_melody_sounds(c, c->grip_low)) return c->grip_low;
    for (int pitch = 0; pitch < US_PITCHES; pitch++)
        if (us_melody_sounds(c, pitch)) return pitch;
    return US_PITCHES;
}

static void check_from(const struct lesson *l, size_t first, int seed)
{
    struct us_snapshot now;
    us_companion_snapshot(l->companion, &now);
    for (size_t i = first; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        if (a->kind != US_ACTION_NOTE_ON) continue;
        int left = a->pitch - now.sound_shift;
        MUST(a->voice != US_VOICE_SECOND || now.second_voice, "seed %d: no second voice", seed);
        MUST(a->voice != US_VOICE_LEFT || now.left_hand_on, "seed %d: the left hand is off", seed);
        MUST(a->voice != US_VOICE_LEFT || left < ceiling_of(l->companion),
             "seed %d: left hand %d over the melody at %lld ns", seed, left, (long long)a->at_ns);
    }
}

/* After each step: no voice that was not asked for, and the left hand below the melody. */
START_TEST(voices_keep_to_their_places)
{
    for (int seed = 1; seed <= 2 * SEEDS; seed++) {
        struct player *p = compose(seed, true);
        struct us_companion_settings s = any_settings(p);
        struct lesson *l = begin(&s);
        for (size_t i = 0; i < p->count; i++) {
            while (us_companion_due(l->companion) < p->event[i].at_ns) {
                size_t first = l->heard.count;
                wait_until(l, us_companion_due(l->companion));
                check_from(l, first, seed);
            }
            size_t first = l->heard.count;
            l->now_ns = p->event[i].at_ns;
            send(l, p->event[i]);
            check_from(l, first, seed);
        }
        leave(l);
        send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_PANIC});
        check_notes_end(l);
        end(l);
        free(p);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {voices_keep_to_their_places};
    TCase *variants = tcase_create("variants");
    tcase_add_loop_test(variants, variant_changes_nothing_else, 0, VARIANT_COUNT);
    return run_tests_and_case("companion properties", TESTS, 1, variants, VARIANT_COUNT);
}
