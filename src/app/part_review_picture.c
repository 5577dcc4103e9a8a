#include "parts.h"

#include "undersong/review_picture.h"

enum us_status us_review_picture(const struct us_review *review, const char *path, bool png,
                                 struct us_error *error)
{
    __typeof__(&us_review_picture) picture = PART_FUNCTION("pictures", us_review_picture, error);
    return picture ? picture(review, path, png, error) : US_STATUS_NO_DEVICE;
}
