/* Two harmonies of a tune side by side. */
#ifndef APP_COMPARE_H
#define APP_COMPARE_H

#include "harmonize_settings.h"
#include "inputs.h"

/* Prints where they differ and how much they agree, as text or JSON; returns the exit status.  By degrees, so
   the two may be in different keys. */
int compare_harmonies(const struct harmonize_settings *settings, const struct us_harmony_tables *tables,
                      const struct inputs *inputs);

#endif
