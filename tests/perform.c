/* Plays a tune as a learner might and writes the performance as a MIDI file:

       perform SEED TUNE OUT.mid

   Tempo drifts, phrase ends are lengthened, notes come a little early or late, one note in the tune is waited
   for, and now and then a wrong key is struck, let go and put right.  What went wrong stands in the first
   track as text.  Only whole-number arithmetic and + - * / on doubles: the same bytes everywhere. */
#include "undersong/smf_writer.h"
#include "undersong/tune_file.h"

#include <stdio.h>
#include <stdlib.h>

/* How this player plays.  Invented for the demos: no measurement behind it. */
static const double JITTER_NS = 14e6;      /* standard deviation of an onset */
static const double DRIFT = 0.012;         /* of the tempo, from note to note */
static const double LINE_END = 1.13;       /* how much longer the last note of a line is */
static const double WRONG_CHANCE = 0.018;  /* a wrong key */
static const double WRONG_NS = 330e6;      /* until it is put right */
static const double HESITATION_NS = 650e6; /* at least; up to twice that */

struct performer {
    uint64_t state;
    double ns;    /* where the performance is */
    double tempo; /* factor on the written length of a quarter */
    struct us_smf_writer *writer;
    int track;
};

/* splitmix64: D. Lea, G. Steele, C. Flood, "Fast splittable pseudorandom number generators", 2014. */
static uint64_t draw(struct performer *performer)
{
    uint64_t z = performer->state += 0x9E3779B97F4A7C15u;
    z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9u;
    z = (z ^ z >> 27) * 0x94D049BB133111EBu;
    return z ^ z >> 31;
}

static double uniform(struct performer *performer)
{
    return (double)(draw(performer) >> 11) / 9007199254740992.0;
}

/* Twelve uniforms summed: mean 0, deviation 1, near enough to normal, without libm. */
static double normal(struct performer *performer)
{
    double sum = -6;
    for (int i = 0; i < 12; i++)
        sum += uniform(performer);
    return sum;
}

static void strike(struct performer *performer, double from_ns, double until_ns, int pitch, int velocity)
{
    if (until_ns < from_ns + 30e6) until_ns = from_ns + 30e6;
    int64_t on = us_smf_performed_tick((int64_t)from_ns), off = us_smf_performed_tick((int64_t)until_ns);
    us_smf_writer_message(performer->writer, performer->track, on,
                          (struct us_midi_message){US_MIDI_NOTE_ON, (uint8_t)pitch, (uint8_t)velocity});
    us_smf_writer_message(performer->writer, performer->track, off,
                          (struct us_midi_message){US_MIDI_NOTE_OFF, (uint8_t)pitch, US_MIDI_RELEASE});
}

static void remark(struct performer *performer, double at_ns, const char *text)
{
    us_smf_writer_text(performer->writer, 0, us_smf_performed_tick((int64_t)at_ns), US_SMF_TEXT, text);
}

/* The neighbouring key of the scale, above or below. */
static int neighbour(struct performer *performer, int pitch, struct us_key key)
{
    int direction = draw(performer) & 1 ? 1 : -1;
    us_pcset scale = us_key_scale(key);
    do
        pitch += direction;
    while (scale && !us_pcset_has(scale, pitch));
    return pitch;
}

static bool same(double a, double b)
{
    return a - b < 1e-6 && b - a < 1e-6;
}

static bool ends_line(const struct us_tune *tune, size_t i)
{
    if (i + 1 >= tune->note_count) return true;
    for (size_t l = 0; l < tune->line_count; l++)
        if (same(tune->lines[l], tune->notes[i + 1].at)) return true;
    return false;
}

static bool on_bar_line(const struct us_tune *tune, double at)
{
    for (size_t b = 0; b < tune->bar_count; b++)
        if (same(tune->bars[b].at, at)) return true;
    return false;
}

/* Strikes the wrong key first, then moves on to the right one. */
static void stumble(struct performer *performer, const struct us_tune *tune, size_t i, int velocity)
{
    char text[64], wrong_name[8], right_name[8];
    int right = tune->notes[i].pitch, wrong = neighbour(performer, right, tune->key);
    bool flats = us_key_flats(tune->key);
    snprintf(text, sizeof text, "wrong: %s for %s",
             us_pitch_name(wrong, flats, wrong_name, sizeof wrong_name),
             us_pitch_name(right, flats, right_name, sizeof right_name));
    remark(performer, performer->ns, text);
    strike(performer, performer->ns, performer->ns + WRONG_NS * 0.8, wrong, velocity);
    performer->ns += WRONG_NS;
}

static int loudness(struct performer *performer, const struct us_tune *tune, size_t i)
{
    double level = 66 + (tune->notes[i].pitch - tune->notes[0].pitch) * 0.6 + 4 * normal(performer);
    if (on_bar_line(tune, tune->notes[i].at)) level += 9;
    return level < 25 ? 25 : level > 115 ? 115 : (int)level;
}

static void perform_note(struct performer *performer, const struct us_tune *tune, size_t i, bool waits)
{
    double quarter_ns = 60e9 / (tune->quarters_a_minute > 0 ? tune->quarters_a_minute : 90);
    const struct us_note *note = &tune->notes[i];
    performer->tempo += DRIFT * normal(performer) + 0.08 * (1 - performer->tempo);
    int velocity = loudness(performer, tune, i);
    if (waits) {
        remark(performer, performer->ns, "hesitates");
        performer->ns += HESITATION_NS * (1 + uniform(performer));
    }
    if (i && uniform(performer) < WRONG_CHANCE) stumble(performer, tune, i, velocity);
    double next_at = i + 1 < tune->note_count ? tune->notes[i + 1].at : note->at + note->len;
    double stretch = ends_line(tune, i) ? LINE_END : 1;
    double start = performer->ns + JITTER_NS * normal(performer);
    double length = note->len * quarter_ns * performer->tempo;
    double held = ends_line(tune, i) ? 0.88 : 0.93 + 0.06 * normal(performer);
    strike(performer, start < 0 ? 0 : start, start + length * held, note->pitch, velocity);
    performer->ns += (next_at - note->at) * quarter_ns * performer->tempo * stretch;
}

/* The note that is waited for: somewhere in the middle half of the tune. */
static size_t waiting_note(struct performer *performer, const struct us_tune *tune)
{
    return tune->note_count / 4 + draw(performer) % (tune->note_count / 2 + 1);
}

static void perform(struct performer *performer, const struct us_tune *tune)
{
    size_t waits = waiting_note(performer, tune);
    performer->ns = 500e6;
    performer->tempo = 1;
    for (size_t i = 0; i < tune->note_count; i++)
        perform_note(performer, tune, i, i == waits);
}

int main(int argc, char **argv)
{
    struct us_tune_file file;
    struct us_error error;
    if (argc != 4) {
        fprintf(stderr, "usage: perform SEED TUNE OUT.mid\n");
        return 2;
    }
    enum us_status status = us_tune_load(argv[2], &file, &error);
    if (!status) {
        struct performer performer = {.state = strtoull(argv[1], NULL, 10),
                                      .writer = us_smf_writer_create(US_SMF_PERFORMED_DIVISION)};
        us_smf_writer_tempo(performer.writer, 0, US_SMF_PERFORMED_TEMPO_US);
        performer.track = us_smf_writer_track(performer.writer, file.tune.title);
        perform(&performer, &file.tune);
        status = us_smf_writer_save(performer.writer, argv[3], 0666, &error);
        us_smf_writer_destroy(performer.writer);
        us_tune_file_finish(&file);
    }
    if (status) fprintf(stderr, "perform: %s\n", error.text);
    return us_status_exit_code(status);
}
