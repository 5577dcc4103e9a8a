/* A build without GTK: pictures, but no window. */
#include "stand.h"

#include "commands.h"

int stand_window(const struct stand_settings *settings)
{
    struct us_error error;
    us_error_set(
        &error, US_STATUS_BAD_INPUT,
        "stand: this build has no window (it was made without GTK 4); `stand --picture FILE.png` and "
        "`play` work");
    return report_error(&error);
}
