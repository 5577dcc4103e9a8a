/* Which of several keys a tune is in, by how clearly chords can be told in each. */
#include <math.h>

#include "harmony_internal.h"

/* How much the doubt about a beat's chord (natural log) counts against a key, beside what the steps say.
   Found on tunes that the tables had not seen; anything from 5 to 10 does as well. */
static const double DOUBT_COUNTS = 8;

static double doubt_in(const struct us_harmony_request *request, struct us_key key, void *workspace)
{
    struct us_harmony_request r = *request;
    struct us_harmony_view view;
    double doubt = 0;
    r.key = key;
    r.keys = NULL;
    r.key_count = r.fixed_count = 0;
    r.chords = US_CHORDS_PRIMARY;
    r.change = US_CHANGE_BEAT;
    r.ignore_tune_chords = true;
    us_harmony_tune(&r, workspace, NULL, 0, &view);
    for (size_t t = 0; t < view.beat_count; t++)
        for (int role = US_ROLE_I; role < US_ROLES; role++) {
            double p = view.beats[t].role[role];
            if (p > 1e-9) doubt -= p * log(p);
        }
    return view.beat_count ? doubt / (double)view.beat_count : 0;
}

struct us_key us_harmony_key(const struct us_harmony_request *request,
                             const struct us_key_candidate *candidates, size_t count, void *workspace,
                             double *probability)
{
    struct us_key best = {US_NO_KEY, US_MODE_MAJOR};
    double most = -INFINITY, sum = 0;
    for (size_t i = 0; i < count; i++) {
        double weight = candidates[i].log_weight;
        if (count > 1) weight -= DOUBT_COUNTS * doubt_in(request, candidates[i].key, workspace);
        if (weight > most) {
            sum = sum * exp(most - weight) + 1;
            most = weight;
            best = candidates[i].key;
        } else {
            sum += exp(weight - most);
        }
    }
    if (probability) *probability = count ? 1 / sum : 0;
    return best;
}
