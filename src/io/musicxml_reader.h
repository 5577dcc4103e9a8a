/* Inside the MusicXML reader. */
#ifndef MUSICXML_READER_H
#define MUSICXML_READER_H

#include <libxml/parser.h>
#include <libxml/tree.h>

#include "undersong/musicxml.h"
#include "written.h"

struct mx_reader {
    const char *name;
    struct us_error *error;
    struct us_written *out;
    int voice;         /* which voice of `out` is filled */
    char filter[16];   /* the voice element's text that is taken */
    size_t measure;    /* index, from 0 */
    int64_t base;      /* where the measure starts */
    int64_t cursor;    /* ticks from there */
    int64_t furthest;  /* the measure's length so far */
    int64_t last_from; /* where the last note that was no chord note started */
    long last_note;    /* index of the last note added, or -1 */
    double divisions;
    int transpose; /* semitones from what is written to what sounds */
    struct us_metre metre;
    struct us_key key;
    bool has_key, has_mode;
    bool line; /* the next note starts a line of the page */
    struct us_written_bar bar;
};

/* An error at the line of `node`: "name:line: " and then the format. */
enum us_status mx_error(const struct mx_reader *reader, const xmlNode *node, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* The same where memory ends. */
enum us_status mx_no_memory(const struct mx_reader *reader);

/* Children by name; NULL where there is none. */
xmlNode *mx_child(const xmlNode *node, const char *name);
bool mx_is(const xmlNode *node, const char *name);
/* Text of a child, cut to `size`, blanks at its ends dropped; "" where there is none.  Returns `out`. */
char *mx_text(const xmlNode *node, const char *name, char *out, size_t size);
double mx_number(const xmlNode *node, const char *name, double otherwise);
char *mx_attribute(const xmlNode *node, const char *name, char *out, size_t size);

/* One element of a measure each. */
US_WARN_UNUSED enum us_status mx_attributes(struct mx_reader *reader, const xmlNode *node);
US_WARN_UNUSED enum us_status mx_note(struct mx_reader *reader, const xmlNode *node);
US_WARN_UNUSED enum us_status mx_move(struct mx_reader *reader, const xmlNode *node, int direction);
US_WARN_UNUSED enum us_status mx_harmony(struct mx_reader *reader, const xmlNode *node);
US_WARN_UNUSED enum us_status mx_barline(struct mx_reader *reader, const xmlNode *node);
void mx_sound(struct mx_reader *reader, const xmlNode *node);

#endif
