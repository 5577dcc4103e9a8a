/* Inside the abc reader: its state, and what its parts offer one another. */
#ifndef ABC_READER_H
#define ABC_READER_H

#include "undersong/abc.h"
#include "written.h"

/* A line of the file, without its end. */
struct abc_line {
    const char *text;
    size_t size;
};

/* The next line from `*at` on; false at the end of the text.  Takes LF, CR LF and CR. */
bool abc_next_line(const char *text, size_t size, size_t *at, struct abc_line *line);

/* How far an accidental reaches until the bar line (%%propagate-accidentals). */
enum abc_reach { ABC_REACH_ALL_OCTAVES, ABC_REACH_OCTAVE, ABC_REACH_NOTE };

/* What a K: field says: accidentals of the signature by letter A to G, and the key nearest to it. */
struct abc_key {
    int8_t signature[7];
    struct us_key key;
};

/* Letters are numbered from C = 0 to B = 6, octaves so that C is in octave 5 (middle C, pitch 60). */
enum { ABC_LETTERS = 7, ABC_OCTAVES = 12, ABC_NO_ACCIDENTAL = 99 };

struct abc_voice {
    struct abc_key key;
    struct us_metre metre;
    int64_t unit;    /* ticks of the unit note length */
    int64_t at;      /* ticks from the start of the tune */
    int64_t last_at; /* where the last note or rest began */
    long last_note;  /* its index, or -1 for a rest */
    bool has_last;   /* a note or rest came before: it can be the first of a broken rhythm */
    int broken;      /* > 0: the next note is shortened so many halvings; < 0: lengthened */
    int tuplet_left; /* notes left in the tuplet */
    int tuplet_p, tuplet_q;
    int octave, transpose;
    bool slur_open;  /* the next note opens a slur */
    bool line_start; /* the next note is the first of its line */
    bool tied;       /* the last note is tied */
    int tied_letter, tied_octave, tied_alter;
    int8_t accidentals[ABC_OCTAVES][ABC_LETTERS]; /* since the bar line, or ABC_NO_ACCIDENTAL */
};

/* The melody, the second voice, and one that is thrown away. */
enum { ABC_VOICES = 3, ABC_NAME_MAX = 32 };

struct abc_reader {
    const char *name; /* the file, for messages */
    int line;         /* line number, from 1 */
    const char *line_text;
    struct us_error *error;
    struct us_written *out;
    struct abc_voice voices[ABC_VOICES];
    char voice_names[US_WRITTEN_VOICES][ABC_NAME_MAX];
    int voice; /* where notes go now */
    enum abc_reach reach;
    bool has_unit;      /* an L: field was seen */
    bool in_body;       /* after the first K: */
    bool skipping_text; /* between %%begin... and %%end... */
    bool continued;     /* the line before ended in a backslash */
    struct us_written_bar open_bar;
    struct us_written_note discarded; /* where the third voice's notes go */
};

/* An error at the line at hand: "name:line: " and then the format. */
enum us_status abc_error(struct abc_reader *reader, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* The same where memory ends. */
enum us_status abc_no_memory(struct abc_reader *reader);

/* Fields.  `value` is terminated and trimmed. */
US_WARN_UNUSED enum us_status abc_field(struct abc_reader *reader, char letter, const char *value);
bool abc_parse_key(const char *value, const struct abc_key *before, struct abc_key *key);
bool abc_parse_metre(const char *value, struct us_metre *metre);
bool abc_parse_unit(const char *value, int64_t *unit);
bool abc_parse_tempo(const char *value, int64_t unit, double *quarters_a_minute);
void abc_parse_parts(const char *value, char *out, size_t size);

/* The text of a field as UTF-8, and back. */
void abc_read_text(const char *value, char *out, size_t size);
void abc_write_text(FILE *to, const char *text);

/* One line of music; `text` is terminated, comments removed. */
US_WARN_UNUSED enum us_status abc_music(struct abc_reader *reader, const char *text);
/* A note, chord or rest at `*p`; `*p` moves behind it. */
US_WARN_UNUSED enum us_status abc_note(struct abc_reader *reader, const char **p);
US_WARN_UNUSED enum us_status abc_chord(struct abc_reader *reader, const char **p);
US_WARN_UNUSED enum us_status abc_rest(struct abc_reader *reader, const char **p);
US_WARN_UNUSED enum us_status abc_broken_rhythm(struct abc_reader *reader, const char **p);
US_WARN_UNUSED enum us_status abc_tuplet(struct abc_reader *reader, const char **p);
/* Bar lines, repeat signs and endings. */
US_WARN_UNUSED enum us_status abc_bar(struct abc_reader *reader, const char **p);
US_WARN_UNUSED enum us_status abc_ending(struct abc_reader *reader, const char **p);
US_WARN_UNUSED enum us_status abc_close_bar(struct abc_reader *reader);
/* Forgets the accidentals since the last bar line. */
void abc_clear_accidentals(struct abc_voice *voice);

#endif
