/* Which rhythm to expect where in the bar: a look into the learned tables. */
#include "follower_parts.h"

#include "rhythm_tables.h"

#include <stdlib.h>

const int16_t RHYTHM_TICKS[RHYTHM_STEPS] = {4,  6,  8,  12, 16, 18, 24,  30,  36,
                                            42, 48, 60, 72, 84, 96, 120, 144, 192};

const struct pickup PICKUP[PICKUPS] = {{0, -1.0F},  {24, -1.2F}, {12, -1.8F},
                                       {48, -3.2F}, {36, -3.5F}, {72, -4.0F}};

/* RHYTHM_TICKS in quarters. */
const float STEP_QUARTERS[RHYTHM_STEPS] = {0.1666667F, 0.25F, 0.3333333F, 0.5F,  0.6666667F, 0.75F,
                                           1.0F,       1.25F, 1.5F,       1.75F, 2.0F,       2.5F,
                                           3.0F,       3.5F,  4.0F,       5.0F,  6.0F,       8.0F};

/* The natural logarithm of RHYTHM_TICKS / US_FOLLOWER_TICKS. */
const float LOG_STEP_QUARTERS[RHYTHM_STEPS] = {
    -1.791759F, -1.386294F, -1.098612F, -0.693147F, -0.405465F, -0.287682F, 0.000000F, 0.223144F, 0.405465F,
    0.559616F,  0.693147F,  0.916291F,  1.098612F,  1.252763F,  1.386294F,  1.609438F, 1.791759F, 2.079442F};

/* The place inside the quarter, on the grid of the tables: sixteenths and triplet eighths. */
int rhythm_slot(int32_t ticks)
{
    static const uint8_t NEAREST[US_FOLLOWER_TICKS] = {0, 0, 0, 1, 1, 1, 2, 2, 3, 3, 3, 4,
                                                       4, 4, 4, 5, 5, 5, 6, 6, 7, 7, 7, 0};
    return (int)(ticks / US_FOLLOWER_TICKS) * 8 + NEAREST[ticks % US_FOLLOWER_TICKS];
}

int rhythm_class(uint8_t step)
{
    static const uint8_t CLASSES[RHYTHM_STEPS] = {1, 1, 1, 2, 3, 4, 5, 6, 6, 7, 7, 8, 8, 8, 8, 8, 8, 8};
    return step == NO_STEP ? 0 : CLASSES[step];
}

const int8_t *rhythm_row(const struct us_follower_metre *metre, int32_t ticks, uint8_t last_step)
{
    int32_t place = wrap(wrap(ticks, metre->bar_ticks), metre->table_ticks);
    int slot = rhythm_slot(place);
    return RHYTHM[metre->table][slot < RHYTHM_SLOTS ? slot : 0][rhythm_class(last_step)];
}

bool rhythm_on_quarter(const struct us_follower_metre *metre, int32_t ticks)
{
    bool compound = metre->table == 3 || metre->table == 4 || metre->table == TABLE_COMPOUND;
    return wrap(ticks, compound ? 36 : US_FOLLOWER_TICKS) == 0;
}

bool rhythm_uneven_again(uint8_t uneven, float *log_again, float *log_else)
{
    /* Counted in the tunes in simple time from which the tables were learned: .122, .199, .427, .686. */
    static const float AGAIN[] = {-2.1F, -1.6F, -0.85F, -0.38F}, ELSE[] = {-0.13F, -0.22F, -0.56F, -1.16F};
    int count = 0;
    for (; uneven; uneven &= (uint8_t)(uneven - 1))
        count++;
    if (!count) return false;
    *log_again = AGAIN[count < 4 ? count - 1 : 3];
    *log_else = ELSE[count < 4 ? count - 1 : 3];
    return true;
}

int contour_of(int before, int pitch, int after)
{
    int contour = 0;
    for (int i = 0; i < 2; i++) {
        int interval = i ? after - pitch : pitch - before, size = abs(interval);
        int kind = size == 0 ? 0 : size < 3 ? 1 : size < 5 ? 2 : 3;
        contour = contour * CONTOUR_SIZES + 3 + (interval < 0 ? -kind : kind);
    }
    return contour;
}

/* Eighths of the bar; anything between them is one place. */
int contour_place(const struct us_follower_metre *metre, int32_t ticks)
{
    int32_t place = wrap(wrap(ticks, metre->bar_ticks), metre->table_ticks);
    return place % 12 || place / 12 >= CONTOUR_PLACES - 1 ? CONTOUR_PLACES - 1 : (int)(place / 12);
}

int contour_evidence(const struct us_follower_metre *metre, int32_t ticks, int contour)
{
    return CONTOUR[metre->table][contour_place(metre, ticks)][contour];
}

int opening_of(int pitch, int after)
{
    int interval = after - pitch;
    return (interval < -12 ? -12 : interval > 12 ? 12 : interval) + 12;
}

int opening_evidence(const struct us_follower_metre *metre, int32_t ticks, int opening)
{
    return OPENING[wrap(ticks, metre->bar_ticks) != 0][opening];
}

/* The length after which each table repeats, in ticks. */
static const int16_t TABLE_TICKS[RHYTHM_TABLES] = {48, 72, 96, 72, 108, 24, 36};

static uint8_t table_of(const struct us_follower_metre *m)
{
    if (m->beat_ticks == 36 || (m->metre.bottom >= 8 && m->metre.top % 3 == 0))
        return m->bar_ticks == 108 ? 4 : m->bar_ticks % 72 == 0 ? 3 : TABLE_COMPOUND;
    if (m->bar_ticks == 96) return 2;
    if (m->bar_ticks == 48 || m->metre.bottom == 2) return 0;
    return m->bar_ticks % 72 == 0 ? 1 : TABLE_SIMPLE;
}

struct us_follower_metre rhythm_metre(struct us_metre metre, float log_prior)
{
    struct us_follower_metre m = {.metre = metre, .log_prior = log_prior};
    m.bar_ticks = (int16_t)(us_metre_bar_quarters(metre) * US_FOLLOWER_TICKS + 0.5);
    m.beat_ticks = (int16_t)(us_metre_beat_quarters(metre) * US_FOLLOWER_TICKS + 0.5);
    m.table = table_of(&m);
    m.table_ticks = TABLE_TICKS[m.table];
    return m;
}
