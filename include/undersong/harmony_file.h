/* Learned tables in a file of a teacher's own, and as C source for the program.  Any thread. */
#ifndef UNDERSONG_HARMONY_FILE_H
#define UNDERSONG_HARMONY_FILE_H

#include <stdio.h>

#include "undersong/harmony_tables.h"
#include "undersong/status.h"

/* Reads what us_harmony_tables_save wrote.  Numbers have decimal points: LC_NUMERIC must be "C", here and in
   saving.  US_STATUS_NOT_FOUND, or US_STATUS_BAD_INPUT with the line; `out` is then not to be used. */
US_WARN_UNUSED enum us_status us_harmony_tables_load(const char *path, struct us_harmony_tables *out,
                                                     struct us_error *error);
/* Writes the file whole or not at all: plain ASCII, about 250 KB. */
US_WARN_UNUSED enum us_status us_harmony_tables_save(const char *path, const struct us_harmony_tables *tables,
                                                     struct us_error *error);
/* The definition of us_harmony_built_in, `origin` in a comment at its top.  Whether all of it was written the
   caller asks of `out`. */
void us_harmony_tables_write_c(FILE *out, const struct us_harmony_tables *tables, const char *origin);

#endif
