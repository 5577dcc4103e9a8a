#include "commands.h"

#include <stdio.h>

int report_error(const struct us_error *error)
{
    fprintf(stderr, "undersong: %s\n", error->text);
    return us_status_exit_code(error->status);
}
