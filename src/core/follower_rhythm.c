/* Which rhythm to expect where in the bar: a look into the learned tables. */
#include "follower_parts.h"

#include "rhythm_tables.h"

const int16_t RHYTHM_TICKS[RHYTHM_STEPS] = {4,  6,  8,  12, 16, 18, 24,  30,  36,
                                            42, 48, 60, 72, 84, 96, 120, 144, 192};

const struct pickup PICKUP[PICKUPS] = {{0, -1.0F},  {24, -1.2F}, {12, -1.8F},
                                       {48, -3.2F}, {36, -3.5F}, {72, -4.0F}};

/* The natural logarithm of RHYTHM_TICKS / US_FOLLOWER_TICKS. */
const float LOG_STEP_QUARTERS[RHYTHM_STEPS] = {
    -1.791759F, -1.386294F, -1.098612F, -0.693147F, -0.405465F, -0.287682F, 0.000000F, 0.223144F, 0.405465F,
    0.559616F,  0.693147F,  0.916291F,  1.098612F,  1.252763F,  1.386294F,  1.609438F, 1.791759F, 2.079442F};

/* The place inside the quarter, on the grid of the tables: sixteenths and triplet eighths. */
static int slot_of(int32_t ticks)
{
    static const uint8_t NEAREST[US_FOLLOWER_TICKS] = {0, 0, 0, 1, 1, 1, 2, 2, 3, 3, 3, 4,
                                                       4, 4, 4, 5, 5, 5, 6, 6, 7, 7, 7, 0};
    return (int)(ticks / US_FOLLOWER_TICKS) * 8 + NEAREST[ticks % US_FOLLOWER_TICKS];
}

static int class_of(uint8_t step)
{
    static const uint8_t LIMITS[] = {8, 12, 16, 18, 24, 36, 48};
    if (step == NO_STEP) return 0;
    int class = 1;
    for (size_t i = 0; i < sizeof LIMITS; i++)
        class += RHYTHM_TICKS[step] > LIMITS[i];
    return class;
}

const int8_t *rhythm_row(const struct us_follower_metre *metre, int32_t ticks, uint8_t last_step)
{
    int32_t place = wrap(wrap(ticks, metre->bar_ticks), metre->table_ticks);
    int slot = slot_of(place);
    return RHYTHM[metre->table][slot < RHYTHM_SLOTS ? slot : 0][class_of(last_step)];
}

struct us_follower_metre rhythm_metre(struct us_metre metre, float log_prior)
{
    static const struct {
        uint8_t table, quarters_4;
    } TABLES[RHYTHM_TABLES] = {{0, 8}, {1, 12}, {2, 16}, {3, 12}, {4, 18}};
    struct us_follower_metre m = {.metre = metre, .log_prior = log_prior};
    m.bar_ticks = (int16_t)(us_metre_bar_quarters(metre) * US_FOLLOWER_TICKS + 0.5);
    m.beat_ticks = (int16_t)(us_metre_beat_quarters(metre) * US_FOLLOWER_TICKS + 0.5);
    bool compound = m.beat_ticks == 36 || (metre.bottom == 8 && metre.top % 3 == 0);
    if (compound)
        m.table = m.bar_ticks == 108 ? 4 : 3;
    else if (m.bar_ticks == 96)
        m.table = 2;
    else if (m.bar_ticks % 72 == 0)
        m.table = 1;
    else
        m.table = 0;
    m.table_ticks = (int16_t)(TABLES[m.table].quarters_4 * US_FOLLOWER_TICKS / 4);
    return m;
}
