#include "harmony_rows_four.h"

enum { HIDDEN = US_NET_HIDDEN, OUT = US_NET_OUT, ROLES = US_ROWS_ROLES };

static void add_out(float *restrict sum, float x, const uint8_t *restrict weights)
{
    for (int i = 0; i < OUT; i++)
        sum[i] += x * (float)((int)weights[i] - US_NET_ZERO);
}

void us_rows_out(const float *x, int rows, const uint8_t *weights, float sum[OUT])
{
    for (int i = 0; i < rows; i++)
        if (x[i] != 0) add_out(sum, x[i], &weights[i * OUT]);
}

/* Where the processor has vectors of eight numbers, the sums stay in its registers.  A product is rounded
   before it is added, as in the plain loops: no fused operation, so the answer is the same. */
#if defined __x86_64__ && defined __GNUC__
#include <immintrin.h>

enum { LANES = 8 };
#define WIDE __attribute__((target("avx2")))

/* Eight inputs at a time: a bit for each that is not zero. */
WIDE static unsigned not_zero(const float *x, int left)
{
    if (left >= LANES)
        return (unsigned)_mm256_movemask_ps(
            _mm256_cmp_ps(_mm256_loadu_ps(x), _mm256_setzero_ps(), _CMP_NEQ_UQ));
    unsigned bits = 0;
    for (int i = 0; i < left; i++)
        bits |= (unsigned)(x[i] != 0) << i;
    return bits;
}

WIDE static inline __m256 wide_product(float x, const uint8_t *weights)
{
    __m256i weight = _mm256_cvtepu8_epi32(_mm_loadl_epi64((const __m128i *)(const void *)weights));
    weight = _mm256_sub_epi32(weight, _mm256_set1_epi32(US_NET_ZERO));
    return _mm256_mul_ps(_mm256_set1_ps(x), _mm256_cvtepi32_ps(weight));
}

WIDE static inline void wide_rows(const float *x, int rows, const uint8_t *weights, int row, int vectors,
                                  float *sum)
{
    __m256 acc[HIDDEN / LANES];
    for (int v = 0; v < vectors; v++)
        acc[v] = _mm256_loadu_ps(sum + v * LANES);
    for (int from = 0; from < rows; from += LANES) {
        for (unsigned used = not_zero(x + from, rows - from); used; used &= used - 1) {
            int i = from + __builtin_ctz(used);
            for (int v = 0; v < vectors; v++)
                acc[v] = _mm256_add_ps(acc[v], wide_product(x[i], weights + i * row + v * LANES));
        }
    }
    for (int v = 0; v < vectors; v++)
        _mm256_storeu_ps(sum + v * LANES, acc[v]);
}

WIDE static void wide_hidden(const float *x, int rows, const uint8_t *weights, float *sum)
{
    wide_rows(x, rows, weights, HIDDEN, HIDDEN / LANES, sum);
}

WIDE static void wide_roles(const float *x, int rows, const uint8_t *weights, float *sum)
{
    wide_rows(x, rows, weights, OUT, ROLES / LANES, sum);
}

static bool has_wide(void)
{
    return __builtin_cpu_supports("avx2");
}
#else
#define wide_hidden four_hidden
#define wide_roles four_roles

static bool has_wide(void)
{
    return false;
}
#endif

void us_rows_hidden(const float *x, int rows, const uint8_t *weights, float sum[HIDDEN])
{
    if (has_wide())
        wide_hidden(x, rows, weights, sum);
    else
        four_hidden(x, rows, weights, sum);
}

void us_rows_roles(const float *x, int rows, const uint8_t *weights, float sum[ROLES])
{
    if (has_wide())
        wide_roles(x, rows, weights, sum);
    else
        four_roles(x, rows, weights, sum);
}
