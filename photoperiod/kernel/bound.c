/* Bounds on pieces, as bound.py has them, and the gates that an error leaves, as tolerance.py. */
#include "_paths.h"

typedef struct {
    double x, y;
} Point;

static Py_ssize_t
tangent(const Point *hull, Py_ssize_t start, Py_ssize_t size, double x, double y, double sign)
{
    Py_ssize_t best = start, k;
    double least = sign * (y - hull[start].y) / (x - hull[start].x), slope;

    for (k = start + 1; k < size; k++) {
        if (hull[k].x == x) { /* the other end of the same gate */
            break;
        }
        slope = sign * (y - hull[k].y) / (x - hull[k].x);
        if (slope > least) {
            break;
        }
        best = k;
        least = slope;
    }
    return best;
}

static inline double
turn(Point a, Point b, Point c)
{
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

/* As segments.farthest; the hulls have room for stop + 1 points each. */
static Py_ssize_t
farthest_from(const double *low, const double *high, Py_ssize_t stop, Point *upper, Point *lower)
{
    Py_ssize_t uppers = 2, lowers = 2, upper_start = 0, lower_start = 0, back;
    Point steep_at, flat_at, now;
    double steep, flat, x, top, bottom, highest, lowest;

    if (low[stop] > high[stop]) {
        return stop;
    }
    if (stop == 0) {
        return 0;
    }
    if (high[stop - 1] < low[stop - 1]) {
        return stop;
    }
    upper[0] = (Point){0.0, high[stop]};
    upper[1] = (Point){1.0, high[stop - 1]};
    lower[0] = (Point){0.0, low[stop]};
    lower[1] = (Point){1.0, low[stop - 1]};
    steep_at = lower[0];
    steep = high[stop - 1] - low[stop];
    flat_at = upper[0];
    flat = low[stop - 1] - high[stop];
    for (back = 2; back <= stop; back++) {
        x = (double)back;
        top = high[stop - back];
        bottom = low[stop - back];
        highest = steep_at.y + steep * (x - steep_at.x);
        lowest = flat_at.y + flat * (x - flat_at.x);
        if (top < bottom || bottom > highest + FLOAT_SLACK || top < lowest - FLOAT_SLACK) {
            return stop - back + 1;
        }
        if (top < highest) {
            lower_start = tangent(lower, lower_start, lowers, x, top, 1.0);
            steep_at = lower[lower_start];
            steep = (top - steep_at.y) / (x - steep_at.x);
            now = (Point){x, top};
            while (uppers >= upper_start + 2
                   && turn(upper[uppers - 2], upper[uppers - 1], now) <= 0) {
                uppers--;
            }
            upper[uppers++] = now;
        }
        if (bottom > lowest) {
            upper_start = tangent(upper, upper_start, uppers, x, bottom, -1.0);
            flat_at = upper[upper_start];
            flat = (bottom - flat_at.y) / (x - flat_at.x);
            now = (Point){x, bottom};
            while (lowers >= lower_start + 2
                   && turn(lower[lowers - 2], lower[lowers - 1], now) >= 0) {
                lowers--;
            }
            lower[lowers++] = now;
        }
    }
    return 0;
}

PyDoc_STRVAR(farthest_doc,
"farthest(low, high, stop, scratch)\n\n"
"Return the least index from which one straight line passes all gates up to `stop`. `scratch` has four\n"
"doubles for each gate and four more.");

static PyObject *
farthest(PyObject *self, PyObject *args)
{
    PyObject *given_low, *given_high, *scratch;
    Buffers buffers = {.count = 0};
    const double *low, *high;
    double *hulls;
    Py_ssize_t size, stop, room, begin = 0;
    int is_right = 0;

    (void)self;
    if (PyArg_ParseTuple(args, "OOnO", &given_low, &given_high, &stop, &scratch)
        && (low = take(&buffers, given_low, 'd', 0, &size)) != NULL
        && check(size <= 2 * MOST_LENGTH && stop >= 0 && stop < size, "stop")
        && (high = take(&buffers, given_high, 'd', 0, &room)) != NULL && check(room == size, "high")
        && (hulls = take(&buffers, scratch, 'd', 1, &room)) != NULL
        && check(room >= 4 * (size + 1), "scratch")) {
        begin = farthest_from(low, high, stop, (Point *)hulls, (Point *)(hulls + 2 * (size + 1)));
        is_right = 1;
    }
    release(&buffers);
    return is_right ? PyLong_FromSsize_t(begin) : NULL;
}

PyDoc_STRVAR(needed_doc,
"needed(low, high, pieces, scratch)\n\n"
"Write for each index a lower bound on the pieces from there to the last gate, as\n"
"`segments.pieces_needed` does; `pieces` holds zeros before.");

static PyObject *
needed(PyObject *self, PyObject *args)
{
    PyObject *given_low, *given_high, *pieces, *scratch;
    Buffers buffers = {.count = 0};
    const double *low, *high;
    double *hulls;
    int64_t *bound, count = 0;
    Py_ssize_t size, room, stop, begin, k;
    int is_right = 0;

    (void)self;
    if (PyArg_ParseTuple(args, "OOOO", &given_low, &given_high, &pieces, &scratch)
        && (low = take(&buffers, given_low, 'd', 0, &size)) != NULL
        && check(size > 0 && size <= MOST_LENGTH + 1, "low")
        && (high = take(&buffers, given_high, 'd', 0, &room)) != NULL && check(room == size, "high")
        && (bound = take(&buffers, pieces, 'q', 1, &room)) != NULL && check(room >= size, "pieces")
        && (hulls = take(&buffers, scratch, 'd', 1, &room)) != NULL
        && check(room >= 4 * (size + 1), "scratch")) {
        stop = size - 1;
        while (stop > 0) {
            begin = farthest_from(low, high, stop, (Point *)hulls,
                                  (Point *)(hulls + 2 * (size + 1)));
            count++;
            if (begin == stop) { /* an empty gate: nothing gets through */
                for (k = 0; k <= stop; k++) {
                    bound[k] = NEVER;
                }
                break;
            }
            for (k = begin; k < stop; k++) {
                bound[k] = count;
            }
            stop = begin;
        }
        is_right = 1;
    }
    release(&buffers);
    if (!is_right) {
        return NULL;
    }
    Py_INCREF(Py_None);
    return Py_None;
}

/* Bands ----------------------------------------------------------------------------------------- */

/* Return how many of some rising lights are less than a key, or with `or_equal` at most that; `near` is
   where to look first. */
static Py_ssize_t
lights_below(const double *light, Py_ssize_t size, double key, int or_equal, Py_ssize_t near)
{
    Py_ssize_t low = 0, high = size, middle;

    while (low < high) {
        middle = near >= low && near < high ? near : low + (high - low) / 2;
        if (light[middle] < key || (or_equal && light[middle] == key)) {
            low = middle + 1;
        }
        else {
            high = middle;
        }
        near = near == middle ? (low > middle ? low : high - 1) : -1;
    }
    return low;
}

/* The light of each count, and how far from what is wanted it may be. */
typedef struct {
    const double *light;
    Py_ssize_t size, first, top, at_low, at_high;
    double below, above, slack;
} Ladder;

/* Set the counts whose light is within the error of what is wanted at one sample. */
static inline void
gate_at(Ladder *ladder, double least, double most, int64_t *low, int64_t *high)
{
    ladder->at_low = lights_below(ladder->light, ladder->size,
                                  least - ladder->below - ladder->slack, 0, ladder->at_low);
    ladder->at_high = lights_below(ladder->light, ladder->size,
                                   most + ladder->above + ladder->slack, 1, ladder->at_high);
    *low = least > 0.0 && ladder->at_low < ladder->first ? ladder->first : ladder->at_low;
    *high = ladder->at_high - 1 < ladder->top ? ladder->at_high - 1 : ladder->top;
}

PyDoc_STRVAR(band_doc,
"band(light, least, most, below, above, slack, first, top, low, high)\n\n"
"Write the least and most count whose light is within an error at each sample, as\n"
"`tolerance.Ladder.band` does.");

static PyObject *
band(PyObject *self, PyObject *args)
{
    PyObject *g[5];
    Buffers buffers = {.count = 0};
    Ladder ladder = {.at_low = 0, .at_high = 0};
    const double *least, *most;
    int64_t *low, *high;
    Py_ssize_t samples, k;
    int is_right = 0;

    (void)self;
    if (PyArg_ParseTuple(args, "OOOdddnnOO", &g[0], &g[1], &g[2], &ladder.below, &ladder.above,
                         &ladder.slack, &ladder.first, &ladder.top, &g[3], &g[4])
        && (ladder.light = take(&buffers, g[0], 'd', 0, &ladder.size)) != NULL
        && (least = take(&buffers, g[1], 'd', 0, &samples)) != NULL
        && (most = take(&buffers, g[2], 'd', 0, &k)) != NULL && check(k == samples, "most")
        && (low = take(&buffers, g[3], 'q', 1, &k)) != NULL && check(k == samples, "low")
        && (high = take(&buffers, g[4], 'q', 1, &k)) != NULL && check(k == samples, "high")) {
        for (k = 0; k < samples; k++) {
            gate_at(&ladder, least[k], most[k], &low[k], &high[k]);
        }
        is_right = 1;
    }
    release(&buffers);
    if (!is_right) {
        return NULL;
    }
    Py_INCREF(Py_None);
    return Py_None;
}

PyDoc_STRVAR(relaxed_doc,
"relaxed(light, least, most, below, above, slack, first, top, widened, end, scratch)\n\n"
"Return how many pieces with real corners a run takes within an error, -1 if some gate is shut.\n"
"`widened` is (lower, again, upper, again): what is added to the counts for the unrounded line, in this\n"
"order; `end` is the count that it ends in, or None. `scratch` has six doubles for each sample and more.");

static PyObject *
relaxed(PyObject *self, PyObject *args)
{
    PyObject *g[4], *end;
    Buffers buffers = {.count = 0};
    Ladder ladder = {.at_low = 0, .at_high = 0};
    const double *least, *most;
    double add[4], *low, *high, point = 0.0;
    Point *hulls;
    int64_t low_count, high_count, count = 0;
    Py_ssize_t samples, size, room, k, stop, begin;
    int is_right = 0;

    (void)self;
    if (PyArg_ParseTuple(args, "OOOdddnn(dddd)OO", &g[0], &g[1], &g[2], &ladder.below,
                         &ladder.above, &ladder.slack, &ladder.first, &ladder.top, &add[0], &add[1],
                         &add[2], &add[3], &end, &g[3])
        && (ladder.light = take(&buffers, g[0], 'd', 0, &ladder.size)) != NULL
        && (least = take(&buffers, g[1], 'd', 0, &samples)) != NULL
        && check(samples > 0 && samples <= MOST_LENGTH, "least")
        && (most = take(&buffers, g[2], 'd', 0, &k)) != NULL && check(k == samples, "most")
        && (low = take(&buffers, g[3], 'd', 1, &room)) != NULL
        && check(room >= 6 * (samples + 2), "scratch")) {
        size = samples;
        high = low + (samples + 2);
        hulls = (Point *)(high + (samples + 2));
        is_right = 1;
        if (end != Py_None) {
            point = PyFloat_AsDouble(end);
            is_right = !(point == -1.0 && PyErr_Occurred());
            low[samples] = high[samples] = point;
            size++;
        }
        for (k = 0; k < samples && is_right && count == 0; k++) {
            gate_at(&ladder, least[k], most[k], &low_count, &high_count);
            count = low_count > high_count ? -1 : 0;
            low[k] = (double)low_count + add[0] + add[1];
            high[k] = (double)high_count + add[2] + add[3];
        }
        stop = count < 0 ? 0 : size - 1;
        while (stop > 0) {
            begin = farthest_from(low, high, stop, hulls, hulls + (samples + 2));
            if (begin == stop) { /* an empty gate */
                count = NEVER;
                break;
            }
            count++;
            stop = begin;
        }
    }
    release(&buffers);
    return is_right ? PyLong_FromLongLong((long long)count) : NULL;
}

PyMethodDef bound_methods[] = {
    {"band", band, METH_VARARGS, band_doc},
    {"farthest", farthest, METH_VARARGS, farthest_doc},
    {"needed", needed, METH_VARARGS, needed_doc},
    {"relaxed", relaxed, METH_VARARGS, relaxed_doc},
    {NULL, NULL, 0, NULL},
};
