#include "undersong/status.h"

#include <stdarg.h>
#include <stdio.h>

#include "undersong/plain_line.h"

enum us_status us_error_set(struct us_error *error, enum us_status status, const char *format, ...)
{
    if (!error) return status;
    error->status = status;
    va_list args;
    va_start(args, format);
    vsnprintf(error->text, sizeof error->text, format, args);
    va_end(args);
    us_plain_line(error->text, error->text, sizeof error->text);
    return status;
}

enum us_status us_error_no_memory(struct us_error *error)
{
    return us_error_set(error, US_STATUS_NO_MEMORY, "out of memory");
}

int us_status_exit_code(enum us_status status)
{
    if (status == US_STATUS_OK) return 0;
    return status == US_STATUS_BAD_INPUT || status == US_STATUS_NOT_FOUND ? 2 : 1;
}
