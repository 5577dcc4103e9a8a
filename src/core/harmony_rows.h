/* The networks' innermost loops: quantized weights, row by row. */
#ifndef UNDERSONG_HARMONY_ROWS_H
#define UNDERSONG_HARMONY_ROWS_H

#include "undersong/harmony_tables.h"

#include <stdbool.h>

/* Adds to `sum` what `rows` inputs give: each times its row of weights.  A row of a layer has US_NET_HIDDEN
   weights, one of the outputs US_NET_OUT.  Rows whose input is zero are passed over.  The sums are the same
   to the last bit whatever the processor. */
void us_rows_hidden(const float *x, int rows, const uint8_t *weights, float sum[US_NET_HIDDEN]);
void us_rows_out(const float *x, int rows, const uint8_t *weights, float sum[US_NET_OUT]);
/* The same for the first US_ROWS_ROLES outputs only. */
enum { US_ROWS_ROLES = 16 };
void us_rows_roles(const float *x, int rows, const uint8_t *weights, float sum[US_ROWS_ROLES]);

#endif
