/* The rows of harmony_rows.h with vectors of four numbers, which every x86-64 processor has; the sums stay in
   registers.  Only harmony_rows.c and its check include this. */
#ifndef UNDERSONG_HARMONY_ROWS_FOUR_H
#define UNDERSONG_HARMONY_ROWS_FOUR_H

#include "harmony_rows.h"

#ifdef __SSE2__
#include <emmintrin.h>

enum { FOUR_LANES = 4, FOUR_BLOCK = 16 };

/* Adds to `acc` the products of x and sixteen weights.  A byte put into the fraction of 2^23 is that number
   plus the byte, so that one exact subtraction makes a weight of it. */
static inline void four_add(__m128 acc[4], __m128 x, const uint8_t *weights)
{
    const __m128i zero = _mm_setzero_si128(), exponent = _mm_set1_epi16(0x4B00);
    const __m128 shift = _mm_set1_ps(8388608.0F + US_NET_ZERO);
    __m128i bytes = _mm_loadu_si128((const __m128i *)(const void *)weights);
    __m128i half[2] = {_mm_unpacklo_epi8(bytes, zero), _mm_unpackhi_epi8(bytes, zero)};
    for (int i = 0; i < 4; i++) {
        __m128i bits =
            i % 2 ? _mm_unpackhi_epi16(half[i / 2], exponent) : _mm_unpacklo_epi16(half[i / 2], exponent);
        acc[i] = _mm_add_ps(acc[i], _mm_mul_ps(x, _mm_sub_ps(_mm_castsi128_ps(bits), shift)));
    }
}

static inline void four_rows(const float *x, int rows, const uint8_t *weights, int row, int blocks,
                             float *sum)
{
    __m128 acc[US_NET_HIDDEN / FOUR_LANES];
    for (int v = 0; v < 4 * blocks; v++)
        acc[v] = _mm_loadu_ps(sum + v * FOUR_LANES);
    for (int i = 0; i < rows; i++, weights += row)
        if (x[i] != 0)
            for (int b = 0; b < blocks; b++)
                four_add(acc + 4 * b, _mm_set1_ps(x[i]), weights + b * FOUR_BLOCK);
    for (int v = 0; v < 4 * blocks; v++)
        _mm_storeu_ps(sum + v * FOUR_LANES, acc[v]);
}

static inline void four_hidden(const float *x, int rows, const uint8_t *weights, float *sum)
{
    four_rows(x, rows, weights, US_NET_HIDDEN, US_NET_HIDDEN / FOUR_BLOCK, sum);
}

static inline void four_roles(const float *x, int rows, const uint8_t *weights, float *sum)
{
    four_rows(x, rows, weights, US_NET_OUT, US_ROWS_ROLES / FOUR_BLOCK, sum);
}
#else
/* One by one, where there are no such vectors. */
static inline void four_rows(const float *restrict x, int rows, const uint8_t *restrict weights, int row,
                             int columns, float *restrict sum)
{
    for (int i = 0; i < rows; i++, weights += row)
        if (x[i] != 0)
            for (int k = 0; k < columns; k++)
                sum[k] += x[i] * (float)((int)weights[k] - US_NET_ZERO);
}

static inline void four_hidden(const float *x, int rows, const uint8_t *weights, float *sum)
{
    four_rows(x, rows, weights, US_NET_HIDDEN, US_NET_HIDDEN, sum);
}

static inline void four_roles(const float *x, int rows, const uint8_t *weights, float *sum)
{
    four_rows(x, rows, weights, US_NET_OUT, US_ROWS_ROLES, sum);
}
#endif

#endif
