#include "parts.h"

#include "commands.h"
#include "stand.h"

int stand_window(const struct stand_settings *settings)
{
    struct us_error error;
    __typeof__(&stand_window) window = PART_FUNCTION("window", stand_window, &error);
    return window ? window(settings) : report_error(&error);
}
