#include "undersong/patch.h"

#include <string.h>

void us_patch_default(struct us_patch *patch)
{
    memset(patch, 0, sizeof *patch);
    patch->touch = 70;
    for (int v = 0; v < US_VOICES; v++)
        patch->voice[v] = (struct us_patch_voice){.program = 0, .level = 100, .reverb = 20};
    patch->voice[US_VOICE_LEFT].level = 80;
}

uint8_t us_patch_velocity(const struct us_patch *patch, enum us_voice voice, uint8_t velocity)
{
    enum { MIDDLE = 80 };
    if (voice == US_VOICE_MELODY) return velocity < 1 ? 1 : velocity & 127;
    int v = MIDDLE + ((int)velocity - MIDDLE) * patch->touch / 100;
    return (uint8_t)(v < 1 ? 1 : v > 127 ? 127 : v);
}
