/*
 * The inner loops of the search for rows: cones of slopes, the fewest pieces, the least squares.
 *
 * All of it stands in numpy, too, in photoperiod/setpoints (segments.py, least_squares.py), and must
 * give the same numbers, bit by bit: the same operations on doubles in the same order, the same work
 * counted at the same places. So it is compiled without fused multiply-add (-ffp-contract=off).
 *
 * All memory comes from the caller, as buffers, and nothing is written before it is known to fit.
 * Counts are below a million (2^20; schedules have up to 100,000 levels) and a day has 86,400 samples:
 * every product here is below 2^53, so that neither a 64-bit integer nor a double that holds one can
 * overflow or round.
 *
 * Written for the stable ABI of Python 3.11.
 */
#define Py_LIMITED_API 0x030B0000
#define PY_SSIZE_T_CLEAN
#include <Python.h>
#include <float.h>
#include <stdint.h>
#include <string.h>

#ifdef Py_GIL_DISABLED
#error "the stable ABI does not know free-threaded Python; numpy does the work there"
#endif
#if FLT_EVAL_METHOD != 0
#error "doubles of more than 64 bits would give other numbers than numpy"
#endif

/* Raised with every change of a function below; which.py names the one that it knows. */
#define KERNEL_VERSION 4

#define MOST_COUNT (1 << 20) /* a gate holds counts below this */
#define MOST_LENGTH 86400 /* samples of a run: one a second */
#define FLOAT_SLACK 1e-9 /* as in segments.py */
#define BLOCK 512 /* as _BLOCK, _CHUNK and _CHUNK_MOST in segments.py: they decide how work is counted */
#define CHUNK 96
#define CHUNK_MOST 384
#define MOST_SPANS ((Py_ssize_t)BLOCK * CHUNK_MOST) /* spans that a chunk of a block can have */
#define NOT_SEEN (-2)
#define NEVER INT32_MAX
/* A slope is divided out only if a product that is wrong by far less than this leaves it open whether
   it binds [counts]. */
#define NEAR 1e-6

enum status { NO_PATH = 0, FOUND = 1, EXHAUSTED = 2, NO_ROOM = 3, INTERRUPTED = 4 };

/* Buffers -------------------------------------------------------------------------------------- */

#define MOST_BUFFERS 24

typedef struct {
    Py_buffer held[MOST_BUFFERS];
    int count;
} Buffers;

static void
release(Buffers *buffers)
{
    while (buffers->count > 0) {
        PyBuffer_Release(&buffers->held[--buffers->count]);
    }
}

/* Take a buffer of items of one kind: 'd' doubles, 'q' and 'i' integers of 8 and 4 bytes, 'b' bytes or
   booleans. Sets *count to its items; NULL and an exception if it is something else. */
static void *
take(Buffers *buffers, PyObject *object, char kind, int writable, Py_ssize_t *count)
{
    int flags = PyBUF_FORMAT | PyBUF_C_CONTIGUOUS | (writable ? PyBUF_WRITABLE : 0);
    Py_buffer *view;
    const char *format;
    Py_ssize_t size = kind == 'b' ? 1 : kind == 'i' ? 4 : 8;
    int right;

    if (buffers->count == MOST_BUFFERS) {
        PyErr_SetString(PyExc_SystemError, "too many buffers");
        return NULL;
    }
    view = &buffers->held[buffers->count];
    if (PyObject_GetBuffer(object, view, flags) < 0) {
        return NULL;
    }
    buffers->count++;
    format = view->format == NULL ? "B" : view->format;
    if (kind == 'd') {
        right = strcmp(format, "d") == 0;
    }
    else if (kind == 'b') {
        right = strcmp(format, "?") == 0 || strcmp(format, "B") == 0;
    }
    else {
        right = strcmp(format, "q") == 0 || strcmp(format, "l") == 0 || strcmp(format, "i") == 0;
    }
    if (!right || view->itemsize != size) {
        PyErr_Format(PyExc_TypeError, "a buffer of kind '%c' is needed, not of format '%s'",
                     (int)kind, format);
        return NULL;
    }
    *count = view->len / size;
    return view->buf;
}

static int
is_number(PyObject *object, long long least, long long most, long long *number)
{
    *number = PyLong_AsLongLong(object);
    if (*number == -1 && PyErr_Occurred()) {
        return 0;
    }
    if (*number < least || *number > most) {
        PyErr_Format(PyExc_ValueError, "%lld is not from %lld to %lld", *number, least, most);
        return 0;
    }
    return 1;
}

static int
check(int holds, const char *what)
{
    if (!holds) {
        PyErr_Format(PyExc_ValueError, "buffers do not fit: %s", what);
    }
    return holds;
}

/* Gates ---------------------------------------------------------------------------------------- */

typedef struct {
    const double *lower[2], *upper[2]; /* ends for the unrounded line, by line */
    int sign[2], lines;
    Py_ssize_t size; /* of those; the run's length, and one more if it ends in a point */
    const int64_t *low, *high; /* counts, by sample */
    Py_ssize_t length;
    int64_t first, end, stride; /* end is -1 if there is none */
} Gates;

/* Read gates from (low, high, first, end, stride, ((sign, lower, upper), …)). */
static int
gates_of(PyObject *tuple, Gates *gates, Buffers *buffers)
{
    Py_ssize_t size;
    PyObject *lines, *line;
    long long number;
    int k;

    if (!PyTuple_Check(tuple) || PyTuple_Size(tuple) != 6) {
        PyErr_SetString(PyExc_TypeError, "gates are a tuple of six");
        return 0;
    }
    gates->low = take(buffers, PyTuple_GetItem(tuple, 0), 'q', 0, &gates->length);
    if (gates->low == NULL) {
        return 0;
    }
    gates->high = take(buffers, PyTuple_GetItem(tuple, 1), 'q', 0, &size);
    if (gates->high == NULL || !check(size == gates->length, "high")) {
        return 0;
    }
    if (!check(size > 0 && size <= MOST_LENGTH, "length")) {
        return 0;
    }
    if (!is_number(PyTuple_GetItem(tuple, 2), 0, MOST_COUNT, &number)) {
        return 0;
    }
    gates->first = number;
    if (!is_number(PyTuple_GetItem(tuple, 3), -1, MOST_COUNT, &number)) {
        return 0;
    }
    gates->end = number;
    if (!is_number(PyTuple_GetItem(tuple, 4), 1, MOST_COUNT, &number)) {
        return 0;
    }
    gates->stride = number;
    lines = PyTuple_GetItem(tuple, 5);
    if (!PyTuple_Check(lines) || PyTuple_Size(lines) < 1 || PyTuple_Size(lines) > 2) {
        PyErr_SetString(PyExc_TypeError, "gates have one line or two");
        return 0;
    }
    gates->lines = (int)PyTuple_Size(lines);
    gates->size = gates->length + (gates->end >= 0);
    for (k = 0; k < gates->lines; k++) {
        line = PyTuple_GetItem(lines, k);
        if (!PyTuple_Check(line) || PyTuple_Size(line) != 3) {
            PyErr_SetString(PyExc_TypeError, "a line is a tuple of three");
            return 0;
        }
        if (!is_number(PyTuple_GetItem(line, 0), -1, 1, &number)) {
            return 0;
        }
        gates->sign[k] = (int)number;
        gates->lower[k] = take(buffers, PyTuple_GetItem(line, 1), 'd', 0, &size);
        if (gates->lower[k] == NULL || !check(size == gates->size, "lower")) {
            return 0;
        }
        gates->upper[k] = take(buffers, PyTuple_GetItem(line, 2), 'd', 0, &size);
        if (gates->upper[k] == NULL || !check(size == gates->size, "upper")) {
            return 0;
        }
    }
    for (size = 0; size < gates->length; size++) { /* so that no sum or product overflows */
        if (!check(gates->low[size] >= -MOST_COUNT && gates->low[size] <= MOST_COUNT
                       && gates->high[size] >= -MOST_COUNT && gates->high[size] < MOST_COUNT,
                   "counts")) {
            return 0;
        }
    }
    return 1;
}

/* Work ----------------------------------------------------------------------------------------- */

typedef struct {
    int64_t spent, limit, most_held;
} Work;

static int
work_of(PyObject *tuple, Work *work)
{
    long long number;

    if (!PyTuple_Check(tuple) || PyTuple_Size(tuple) != 3) {
        PyErr_SetString(PyExc_TypeError, "work is (spent, limit, most held)");
        return 0;
    }
    if (!is_number(PyTuple_GetItem(tuple, 0), 0, INT64_MAX / 4, &number)) {
        return 0;
    }
    work->spent = number;
    if (!is_number(PyTuple_GetItem(tuple, 1), 0, INT64_MAX / 4, &number)) {
        return 0;
    }
    work->limit = number;
    if (!is_number(PyTuple_GetItem(tuple, 2), 0, INT64_MAX / 4, &number)) {
        return 0;
    }
    work->most_held = number;
    return 1;
}

static inline int
is_spent_by(Work *work, int64_t gates)
{
    work->spent += gates;
    return work->spent > work->limit;
}

/* Cones ---------------------------------------------------------------------------------------- */

typedef struct {
    int32_t source, index;
    double base, flattest, steepest;
} Cone;

/* What one piece reaches at one place: `number` counts from `least` on. */
typedef struct {
    int32_t source, at, least, number;
} Span;

/* How many whole strides a count has; most searches have a stride of 1, and a division takes long. */
static inline int64_t
strides(int64_t count, int64_t stride)
{
    return stride == 1 ? count : count / stride;
}

static inline int64_t
rounded_up(double x)
{
    int64_t whole = (int64_t)x;
    return whole + (x > (double)whole);
}

static inline int64_t
rounded_down(double x)
{
    int64_t whole = (int64_t)x;
    return whole - (x < (double)whole);
}

/* Set the counts that a cone has at a place; 0 if there is none. */
static inline int
counts_in(const Gates *gates, const Cone *cone, int64_t distance, int64_t at, Span *span)
{
    double low = cone->base + cone->flattest * (double)distance - FLOAT_SLACK;
    double high = cone->base + cone->steepest * (double)distance + FLOAT_SLACK;
    int64_t least, most;

    /* Outside this no count is, and a cast would not be defined. */
    if (!(low < 4.0 * MOST_COUNT) || !(high > -4.0 * MOST_COUNT)) {
        return 0;
    }
    least = low < -4.0 * MOST_COUNT ? -4 * MOST_COUNT : rounded_up(low);
    most = high > 4.0 * MOST_COUNT ? 4 * MOST_COUNT : rounded_down(high);
    if (at == gates->length) { /* the end: a point */
        if (least > gates->end || most < gates->end) {
            return 0;
        }
        span->least = (int32_t)gates->end;
        span->number = 1;
    }
    else {
        if (least < gates->first) {
            least = gates->first;
        }
        if (least < gates->low[at]) {
            least = gates->low[at];
        }
        if (most > gates->high[at]) {
            most = gates->high[at];
        }
        least = strides(least + gates->stride - 1, gates->stride) * gates->stride;
        if (most < least) {
            return 0;
        }
        span->least = (int32_t)least;
        span->number = (int32_t)(strides(most - least, gates->stride) + 1);
    }
    span->source = cone->source;
    span->at = (int32_t)at;
    return 1;
}

/* Narrow a cone by a gate; whether it still is open. A slope that is no nearer does not bind, and most
   are told by a product: a division takes far longer. */
static inline int
narrowed(Cone *cone, double lower, double upper, double distance)
{
    double rise = upper - cone->base, slope;

    if (rise < cone->steepest * distance + NEAR) {
        slope = rise / distance;
        if (slope < cone->steepest) {
            cone->steepest = slope;
        }
    }
    rise = lower - cone->base;
    if (rise > cone->flattest * distance - NEAR) {
        slope = rise / distance;
        if (slope > cone->flattest) {
            cone->flattest = slope;
        }
    }
    return cone->flattest <= cone->steepest + FLOAT_SLACK;
}

/* Lead a cone through the gates from one distance to another (left out); write what it reaches at
   useful places, at most one span a gate. Returns whether it still is open. */
static inline int
led_on(const Gates *gates, int line, Cone *given, int64_t offset, int64_t stop, Py_ssize_t first,
       Py_ssize_t last, const uint8_t *useful, Span *spans, Py_ssize_t *count)
{
    const double *lower = gates->lower[line], *upper = gates->upper[line];
    int64_t at = given->index + offset, end = given->index + stop, quiet;
    double distance = (double)offset; /* exact, as all whole numbers here */
    Cone cone = *given;
    Py_ssize_t found = *count;
    int is_open = 1;

    if (end > last + 1) {
        end = last + 1;
        is_open = 0;
    }
    quiet = end < first ? end : first; /* before the first useful place nothing is written */
    for (; at < quiet; at++, distance += 1.0) {
        if (!narrowed(&cone, lower[at], upper[at], distance)) {
            return 0;
        }
    }
    for (; at < end; at++, distance += 1.0) {
        if (!narrowed(&cone, lower[at], upper[at], distance)) {
            is_open = 0;
            break;
        }
        if (useful[at]) {
            found += counts_in(gates, &cone, at - cone.index, at, &spans[found]);
        }
    }
    *given = cone;
    *count = found;
    return is_open;
}

/* A walk through all cones of some corners, in the order in which numpy looks at them: line by line,
   block by block, chunk by chunk. */
typedef struct {
    const Gates *gates;
    const uint8_t *useful;
    Py_ssize_t first, last, corners, block_most; /* first and last useful place */
    int line;
    Py_ssize_t start; /* of the next block */
    Cone cones[BLOCK];
    Py_ssize_t alive;
    int64_t offset, chunk, held;
} Walk;

/* Return the first useful place, `last + 1` if there is none up to the last one. */
static Py_ssize_t
first_of(const uint8_t *useful, Py_ssize_t last)
{
    Py_ssize_t at = 0;

    while (at <= last && !useful[at]) {
        at++;
    }
    return at;
}

/* Return the last useful place, -1 if there is none. */
static Py_ssize_t
last_of(const uint8_t *useful, Py_ssize_t places)
{
    while (places > 0 && !useful[places - 1]) {
        places--;
    }
    return places - 1;
}

/* Begin a walk up to the last useful place; without one there is nothing to walk. */
static void
walk_begins(Walk *walk, const Gates *gates, const uint8_t *useful, Py_ssize_t first,
            Py_ssize_t last, Py_ssize_t corners, Py_ssize_t block_most)
{
    walk->gates = gates;
    walk->useful = useful;
    walk->first = first;
    walk->last = last;
    walk->corners = walk->last < 0 ? 0 : corners;
    walk->block_most = block_most;
    walk->line = 0;
    walk->start = 0;
    walk->alive = 0;
    walk->held = 0;
}

/* Where a walk gets its corners from: the sample and the count of each. */
typedef struct {
    const int32_t *states; /* index * width + count / stride, or: */
    const int64_t *index, *count;
    int64_t width, stride;
} Corners;

static inline void
open_cone(Cone *cone, const Corners *from, Py_ssize_t number, int sign)
{
    cone->source = (int32_t)number;
    if (from->states != NULL) {
        cone->index = (int32_t)(from->states[number] / from->width);
        cone->base = (double)(from->states[number] % from->width * from->stride);
    }
    else {
        cone->index = (int32_t)from->index[number];
        cone->base = (double)from->count[number];
    }
    cone->flattest = sign > 0 ? 0.0 : -Py_HUGE_VAL;
    cone->steepest = sign < 0 ? 0.0 : Py_HUGE_VAL;
}

/* Go one chunk on. Writes up to MOST_SPANS spans. FOUND if there was one, NO_PATH at the end of the
   walk, EXHAUSTED if the work is spent. */
static enum status
one_chunk_on(Walk *walk, const Corners *from, Work *work, Span *spans, Py_ssize_t *count)
{
    Py_ssize_t k, kept = 0;

    *count = 0;
    while (walk->alive == 0) {
        if (walk->start >= walk->corners) {
            if (walk->line + 1 >= walk->gates->lines || walk->corners == 0) {
                return NO_PATH;
            }
            walk->line++;
            walk->start = 0;
        }
        for (k = walk->start; k < walk->corners && walk->alive < walk->block_most; k++) {
            open_cone(&walk->cones[walk->alive++], from, k, walk->gates->sign[walk->line]);
        }
        walk->start = k;
        walk->offset = 1;
        walk->chunk = CHUNK;
    }
    if (is_spent_by(work, walk->alive * walk->chunk)) {
        return EXHAUSTED;
    }
    for (k = 0; k < walk->alive; k++) {
        if (led_on(walk->gates, walk->line, &walk->cones[k], walk->offset,
                   walk->offset + walk->chunk, walk->first, walk->last, walk->useful, spans,
                   count)) {
            if (kept != k) {
                walk->cones[kept] = walk->cones[k];
            }
            kept++;
        }
    }
    walk->alive = kept;
    walk->offset += walk->chunk;
    walk->chunk = walk->chunk * 2 < CHUNK_MOST ? walk->chunk * 2 : CHUNK_MOST;
    walk->held += *count;
    if (*count > 0 && (is_spent_by(work, *count) || 2 * walk->held > work->most_held)) {
        return EXHAUSTED;
    }
    return FOUND;
}

/* What a search shares: gates, the bound on pieces, its states. */
typedef struct {
    Gates gates;
    Work work;
    const int64_t *needed;
    const uint8_t *places;
    uint8_t *useful;
    Py_ssize_t first, last; /* useful places */
    int64_t width;
    Py_ssize_t states; /* all there could be */
} Search;

static void
set_useful(Search *search, int64_t pieces_left)
{
    Py_ssize_t at;

    for (at = 0; at <= search->gates.length; at++) {
        search->useful[at] = search->places[at] && search->needed[at] <= pieces_left;
    }
    search->last = last_of(search->useful, search->gates.length + 1);
    search->first = first_of(search->useful, search->last);
}

/* Read (gates, work, needed, places, useful, width). */
static int
search_of(PyObject *tuple, Search *search, Buffers *buffers)
{
    Py_ssize_t size, at;
    long long number;

    if (!PyTuple_Check(tuple) || PyTuple_Size(tuple) != 6) {
        PyErr_SetString(PyExc_TypeError, "a search is a tuple of six");
        return 0;
    }
    if (!gates_of(PyTuple_GetItem(tuple, 0), &search->gates, buffers)
        || !work_of(PyTuple_GetItem(tuple, 1), &search->work)) {
        return 0;
    }
    search->needed = take(buffers, PyTuple_GetItem(tuple, 2), 'q', 0, &size);
    if (search->needed == NULL || !check(size == search->gates.length + 1, "needed")) {
        return 0;
    }
    search->places = take(buffers, PyTuple_GetItem(tuple, 3), 'b', 0, &size);
    if (search->places == NULL || !check(size == search->gates.length + 1, "places")) {
        return 0;
    }
    if (!check(search->gates.end >= 0 || !search->places[search->gates.length], "places")) {
        return 0;
    }
    search->useful = take(buffers, PyTuple_GetItem(tuple, 4), 'b', 1, &size);
    if (search->useful == NULL || !check(size == search->gates.length + 1, "useful")) {
        return 0;
    }
    if (!is_number(PyTuple_GetItem(tuple, 5), 1, 2 * MOST_COUNT, &number)) {
        return 0;
    }
    search->width = number;
    number *= search->gates.length + 1;
    if (!check(number <= INT32_MAX - 8, "states")) { /* so that eight more are no overflow */
        return 0;
    }
    search->states = (Py_ssize_t)number;
    for (at = 0; at < search->gates.length; at++) { /* every count has a state of its own */
        if (!check(search->gates.high[at] / search->gates.stride < search->width, "width")) {
            return 0;
        }
    }
    return check(search->gates.end / search->gates.stride < search->width, "width");
}

static int
are_states(const Search *search, const int32_t *states, Py_ssize_t count)
{
    Py_ssize_t k;

    for (k = 0; k < count; k++) {
        if (!check(states[k] >= 0 && states[k] < search->states
                       && states[k] / search->width < search->gates.length,
                   "begin")) {
            return 0;
        }
    }
    return 1;
}

/* The fewest pieces ---------------------------------------------------------------------------- */

typedef struct {
    int32_t *parent, *frontier;
    uint8_t *fresh;
    Py_ssize_t count; /* of the frontier */
    const int64_t *low_on, *high_on; /* counts that can be held from there to the end; NULL with an end */
    Span *spans;
} Breadth;

static int32_t
held_to_end(const Search *search, const Breadth *breadth)
{
    Py_ssize_t k;
    int64_t index, count;

    for (k = 0; k < breadth->count; k++) {
        index = breadth->frontier[k] / search->width;
        count = breadth->frontier[k] % search->width * search->gates.stride;
        if (count >= breadth->low_on[index] && count <= breadth->high_on[index]) {
            return breadth->frontier[k];
        }
    }
    return -1;
}

/* The states that are marked fresh from one to another become the frontier, rising. */
static void
fresh_to_frontier(Breadth *breadth, int32_t from, int32_t to)
{
    int32_t state;
    uint64_t eight;

    breadth->count = 0;
    for (state = from; state <= to; state++) {
        while (state + 8 <= to) {
            memcpy(&eight, &breadth->fresh[state], 8);
            if (eight != 0) {
                break;
            }
            state += 8;
        }
        if (breadth->fresh[state]) {
            breadth->fresh[state] = 0;
            breadth->frontier[breadth->count++] = state;
        }
    }
}

/* One piece on from all states of the frontier. */
static enum status
one_piece_on(Search *search, Breadth *breadth, int32_t *end_from)
{
    Walk walk;
    Corners from = {breadth->frontier, NULL, NULL, search->width, search->gates.stride};
    enum status status;
    Py_ssize_t count, k;
    int64_t total;
    int32_t origin, state, stop, smallest = INT32_MAX, largest = -1;
    const Span *span;

    *end_from = -1;
    walk_begins(&walk, &search->gates, search->useful, search->first, search->last, breadth->count,
                BLOCK);
    for (;;) {
        status = one_chunk_on(&walk, &from, &search->work, breadth->spans, &count);
        if (status == EXHAUSTED) {
            return EXHAUSTED;
        }
        if (status == NO_PATH) {
            break;
        }
        for (k = 0, total = 0; k < count; k++) {
            total += breadth->spans[k].number;
        }
        if (is_spent_by(&search->work, total)) {
            return EXHAUSTED;
        }
        for (k = 0; k < count; k++) {
            span = &breadth->spans[k];
            origin = breadth->frontier[span->source];
            if (span->at == search->gates.length) {
                *end_from = origin;
                return FOUND;
            }
            state = (int32_t)(span->at * search->width + strides(span->least, search->gates.stride));
            stop = state + span->number;
            smallest = state < smallest ? state : smallest;
            largest = stop - 1 > largest ? stop - 1 : largest;
            for (; state < stop; state++) { /* of several, the last one to come is the parent */
                if (breadth->parent[state] == NOT_SEEN || breadth->fresh[state]) {
                    breadth->parent[state] = origin;
                    breadth->fresh[state] = 1;
                }
            }
        }
        if (PyErr_CheckSignals() < 0) {
            return INTERRUPTED;
        }
    }
    fresh_to_frontier(breadth, smallest, largest);
    return NO_PATH;
}

PyDoc_STRVAR(fewest_doc,
"fewest(search, begin, most_pieces, parent, frontier, fresh, low_on, high_on, scratch)\n\n"
"Go breadth first from the states `begin`, as `segments._breadth_first` does. Returns (status, work\n"
"spent, the last state of the path); the way back stands in `parent`.");

static PyObject *
fewest(PyObject *self, PyObject *args)
{
    PyObject *given, *begin, *parent, *frontier, *fresh, *low_on, *high_on, *scratch;
    Buffers buffers = {.count = 0};
    Search search;
    Breadth breadth;
    const int32_t *first;
    Py_ssize_t count, size, most, pieces, k;
    enum status status = NO_PATH;
    int32_t state = -1;
    PyObject *result = NULL;

    (void)self;
    if (!PyArg_ParseTuple(args, "OOnOOOOOO", &given, &begin, &most, &parent, &frontier, &fresh,
                          &low_on, &high_on, &scratch)
        || !search_of(given, &search, &buffers)) {
        goto out;
    }
    if ((first = take(&buffers, begin, 'i', 0, &count)) == NULL
        || !are_states(&search, first, count)
        || (breadth.parent = take(&buffers, parent, 'i', 1, &size)) == NULL
        || !check(size == search.states, "parent")
        || (breadth.frontier = take(&buffers, frontier, 'i', 1, &size)) == NULL
        || !check(size == search.states && count <= size, "frontier")
        || (breadth.fresh = take(&buffers, fresh, 'b', 1, &size)) == NULL
        || !check(size == search.states, "fresh")
        || (breadth.low_on = take(&buffers, low_on, 'q', 0, &size)) == NULL
        || !check(size == search.gates.length, "low_on")
        || (breadth.high_on = take(&buffers, high_on, 'q', 0, &size)) == NULL
        || !check(size == search.gates.length, "high_on")
        || (breadth.spans = take(&buffers, scratch, 'i', 1, &size)) == NULL
        || !check(size >= 4 * MOST_SPANS, "scratch")) {
        goto out;
    }
    for (k = 0; k < count; k++) {
        breadth.frontier[k] = first[k];
        breadth.parent[first[k]] = -1;
    }
    breadth.count = count;
    for (pieces = 1; pieces <= most && status == NO_PATH; pieces++) {
        if (search.gates.end < 0) {
            state = held_to_end(&search, &breadth);
            if (state >= 0) {
                status = FOUND;
                break;
            }
        }
        if (breadth.count == 0) {
            break;
        }
        set_useful(&search, most - pieces);
        status = one_piece_on(&search, &breadth, &state);
        if (status == INTERRUPTED) {
            goto out;
        }
    }
    result = Py_BuildValue("iLi", (int)status, (long long)search.work.spent, (int)state);
out:
    release(&buffers);
    return result;
}

/* What is reached from corners ------------------------------------------------------------------ */

PyDoc_STRVAR(spans_doc,
"spans(gates, work, index, count, useful, found, scratch)\n\n"
"Write what one piece from each corner reaches to `found`, four numbers each, as\n"
"`segments.Reach.spans` gives it. Returns (status, work spent, how many).");

static PyObject *
spans(PyObject *self, PyObject *args)
{
    PyObject *given, *spent, *index, *count, *useful, *found, *scratch;
    Buffers buffers = {.count = 0};
    Gates gates;
    Work work;
    Walk walk;
    Corners from = {NULL, NULL, NULL, 1, 1};
    const uint8_t *is_useful;
    Span *out, *some;
    Py_ssize_t corners, size, room, places, k, fresh, total = 0;
    enum status status;
    PyObject *result = NULL;

    (void)self;
    if (!PyArg_ParseTuple(args, "OOOOOOO", &given, &spent, &index, &count, &useful, &found, &scratch)
        || !gates_of(given, &gates, &buffers) || !work_of(spent, &work)
        || (from.index = take(&buffers, index, 'q', 0, &corners)) == NULL
        || (from.count = take(&buffers, count, 'q', 0, &size)) == NULL
        || !check(size == corners && size <= INT32_MAX, "count")
        || (is_useful = take(&buffers, useful, 'b', 0, &places)) == NULL
        || !check(places == gates.length + 1, "useful")
        || !check(gates.end >= 0 || !is_useful[gates.length], "useful")
        || (out = take(&buffers, found, 'i', 1, &room)) == NULL
        || (some = take(&buffers, scratch, 'i', 1, &size)) == NULL
        || !check(size >= 4 * MOST_SPANS, "scratch")) {
        goto out;
    }
    room /= 4;
    for (k = 0; k < corners; k++) {
        if (!check(from.index[k] >= 0 && from.index[k] < gates.length && from.count[k] >= 0
                       && from.count[k] < MOST_COUNT, "corners")) {
            goto out;
        }
    }
    places = last_of(is_useful, places);
    walk_begins(&walk, &gates, is_useful, first_of(is_useful, places), places, corners, BLOCK);
    while ((status = one_chunk_on(&walk, &from, &work, some, &fresh)) == FOUND) {
        if (total + fresh > room) {
            status = NO_ROOM;
            break;
        }
        memcpy(out + total, some, (size_t)fresh * sizeof(Span));
        total += fresh;
        if (PyErr_CheckSignals() < 0) {
            goto out;
        }
    }
    result = Py_BuildValue("iLn", (int)status, (long long)work.spent, total);
out:
    release(&buffers);
    return result;
}

/* The bound on pieces --------------------------------------------------------------------------- */

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

/* All pieces ------------------------------------------------------------------------------------ */

/* What one piece from a state reaches, added to the spans of all states. */
static enum status
pieces_from(Search *search, int32_t state, int64_t *held_in_layer, int64_t *total_in_layer,
            Span *scratch, Span *spans, Py_ssize_t room, Py_ssize_t *spans_count, uint8_t *seen,
            uint8_t *fresh, int32_t *smallest, int32_t *largest)
{
    Walk walk;
    Corners from = {&state, NULL, NULL, search->width, search->gates.stride};
    enum status status;
    Py_ssize_t count, k;
    int32_t first, stop;

    walk_begins(&walk, &search->gates, search->useful, search->first, search->last, 1, 1);
    walk.held = *held_in_layer;
    while ((status = one_chunk_on(&walk, &from, &search->work, scratch, &count)) == FOUND) {
        if (*spans_count + count > room) {
            return NO_ROOM;
        }
        for (k = 0; k < count; k++) {
            spans[*spans_count] = scratch[k];
            spans[(*spans_count)++].source = state;
            *total_in_layer += scratch[k].number;
            first = (int32_t)(scratch[k].at * search->width
                              + strides(scratch[k].least, search->gates.stride));
            stop = first + scratch[k].number;
            if (scratch[k].at == search->gates.length) {
                seen[first] = 1; /* nothing goes on from the end */
                continue;
            }
            *smallest = first < *smallest ? first : *smallest;
            *largest = stop - 1 > *largest ? stop - 1 : *largest;
            for (; first < stop; first++) {
                fresh[first] |= !seen[first];
                seen[first] = 1;
            }
        }
    }
    *held_in_layer = walk.held;
    return status;
}

/* Number the states that were seen, rising; returns how many there are. */
static Py_ssize_t
ranked(const Search *search, const uint8_t *seen, int32_t *rank, int32_t *states)
{
    Py_ssize_t state, count = 0;
    uint64_t eight;

    for (state = 0; state < search->states; state++) {
        while (state + 8 < search->states) {
            memcpy(&eight, &seen[state], 8);
            if (eight != 0) {
                break;
            }
            state += 8;
        }
        if (seen[state]) {
            rank[state] = (int32_t)count;
            states[count++] = (int32_t)state;
        }
    }
    return count;
}

/* Sort the numbers of spans by where they end; those that end at `at` stand from heads[at] on. */
static void
by_place(const Span *spans, Py_ssize_t count, Py_ssize_t length, int32_t *heads, int32_t *order)
{
    Py_ssize_t k;

    memset(heads, 0, (size_t)(length + 2) * sizeof(int32_t));
    for (k = 0; k < count; k++) {
        heads[spans[k].at + 1]++;
    }
    for (k = 1; k <= length + 1; k++) {
        heads[k] += heads[k - 1];
    }
    for (k = 0; k < count; k++) {
        order[heads[spans[k].at]++] = (int32_t)k;
    }
    for (k = length + 1; k > 0; k--) {
        heads[k] = heads[k - 1];
    }
    heads[0] = 0;
}

PyDoc_STRVAR(pieces_doc,
"pieces(search, begin, most_pieces, most_edges, seen, fresh, states, head, rank, spans, heads, order,\n"
"       scratch)\n\n"
"Find all pieces on some path of at most so many, as `least_squares._edges` does. Returns (status, work\n"
"spent, states, spans); a status says that `spans` has too little room. `head` holds for each state its first span or -1, `rank` its number.");

static PyObject *
pieces(PyObject *self, PyObject *args)
{
    PyObject *given, *g[10];
    Buffers buffers = {.count = 0};
    Search search;
    const int32_t *begin;
    int32_t *states, *head, *rank, *heads, *order, smallest, largest;
    uint8_t *seen;
    Span *found, *scratch;
    Breadth breadth;
    Py_ssize_t count, size, room, most, most_edges, number, k, spans_count = 0, edges = 0;
    int64_t held, total;
    enum status status = NO_PATH;
    PyObject *result = NULL;

    (void)self;
    if (!PyArg_ParseTuple(args, "OOnnOOOOOOOOO", &given, &g[0], &most, &most_edges, &g[1], &g[2],
                          &g[3], &g[4], &g[5], &g[6], &g[7], &g[8], &g[9])
        || !search_of(given, &search, &buffers)
        || (begin = take(&buffers, g[0], 'i', 0, &count)) == NULL
        || !are_states(&search, begin, count)
        || (seen = take(&buffers, g[1], 'b', 1, &size)) == NULL
        || !check(size == search.states, "seen")
        || (breadth.fresh = take(&buffers, g[2], 'b', 1, &size)) == NULL
        || !check(size == search.states, "fresh")
        || (states = take(&buffers, g[3], 'i', 1, &size)) == NULL
        || !check(size == search.states && count <= size, "states")
        || (head = take(&buffers, g[4], 'i', 1, &size)) == NULL
        || !check(size == search.states, "head")
        || (rank = take(&buffers, g[5], 'i', 1, &size)) == NULL
        || !check(size == search.states, "rank")
        || (found = take(&buffers, g[6], 'i', 1, &room)) == NULL
        || (heads = take(&buffers, g[7], 'i', 1, &size)) == NULL
        || !check(size == search.gates.length + 2, "heads")
        || (order = take(&buffers, g[8], 'i', 1, &size)) == NULL
        || !check(size >= room / 4 && room / 4 < INT32_MAX, "order")
        || (scratch = take(&buffers, g[9], 'i', 1, &size)) == NULL
        || !check(size >= 4 * MOST_SPANS, "scratch")) {
        goto out;
    }
    room /= 4;
    breadth.frontier = states;
    for (k = 0; k < count; k++) {
        states[k] = begin[k];
        seen[begin[k]] = 1;
    }
    breadth.count = count;
    for (number = 1; number <= most && breadth.count > 0; number++) {
        set_useful(&search, most - number);
        held = total = 0;
        smallest = INT32_MAX;
        largest = -1;
        for (k = 0; k < breadth.count; k++) {
            head[states[k]] = (int32_t)spans_count;
            status = pieces_from(&search, states[k], &held, &total, scratch, found, room,
                                 &spans_count, seen, breadth.fresh, &smallest, &largest);
            if (status == EXHAUSTED || status == NO_ROOM) {
                break;
            }
            if (head[states[k]] == spans_count) {
                head[states[k]] = -1;
            }
            if (k % BLOCK == 0 && PyErr_CheckSignals() < 0) {
                goto out;
            }
        }
        edges += (Py_ssize_t)total;
        if (status == NO_ROOM) {
            break;
        }
        if (status == EXHAUSTED || is_spent_by(&search.work, total)
            || total + total / 2 > search.work.most_held || edges > most_edges) {
            status = EXHAUSTED;
            break;
        }
        fresh_to_frontier(&breadth, smallest, largest);
    }
    count = 0;
    if (status != EXHAUSTED && status != NO_ROOM) {
        count = ranked(&search, seen, rank, states);
        by_place(found, spans_count, search.gates.length, heads, order);
    }
    result = Py_BuildValue("iLnn", (int)status, (long long)search.work.spent, count, spans_count);
out:
    release(&buffers);
    return result;
}

/* The path closest to a plan --------------------------------------------------------------------- */

typedef struct {
    Py_ssize_t length, count, spans_count, layers;
    int64_t width, stride, all;
    const int32_t *states, *head, *rank, *heads, *order;
    const Span *spans;
    const double *sums[6];
    double *best; /* by state and layer: the least cost of so many pieces up to there */
} Graph;

/* What the costs of all pieces from (i, a) to j have in common. */
typedef struct {
    double i, a, span, fixed, along, square;
} Costs;

static inline Costs
costs_of(const Graph *graph, int64_t i, int64_t a, int64_t j)
{
    Costs c;
    double w0 = graph->sums[0][j] - graph->sums[0][i], w1 = graph->sums[1][j] - graph->sums[1][i];
    double w2 = graph->sums[2][j] - graph->sums[2][i], y0 = graph->sums[3][j] - graph->sums[3][i];
    double y1 = graph->sums[4][j] - graph->sums[4][i], y2 = graph->sums[5][j] - graph->sums[5][i];

    c.i = (double)i;
    c.a = (double)a;
    c.span = (double)(j - i);
    c.along = c.a * (w1 - c.i * w0) - (y1 - c.i * y0);
    c.square = w2 - 2.0 * c.i * w1 + (c.i * c.i) * w0;
    c.fixed = c.a * c.a * w0 - 2.0 * c.a * y0 + y2;
    return c;
}

static inline double
cost_to(const Costs *c, int64_t b)
{
    double slope = ((double)b - c->a) / c->span;
    double cost = c->fixed + 2.0 * slope * c->along + slope * slope * c->square;

    return cost > 0.0 ? cost : 0.0;
}

/* Whether a span leads from a state of the graph to states of it: asked of each before it is used. */
static int
is_span(const Graph *graph, Py_ssize_t k)
{
    const Span *span;
    int64_t first;

    if (!check(k >= 0 && k < graph->spans_count, "order")) {
        return 0;
    }
    span = &graph->spans[k];
    if (!check(span->source >= 0 && span->source < graph->all && span->number > 0
                   && span->at > span->source / graph->width && span->at <= graph->length
                   && span->least >= 0, "spans")) {
        return 0;
    }
    first = span->at * graph->width + strides(span->least, graph->stride);
    return check(strides(span->least, graph->stride) + span->number <= graph->width
                     && graph->rank[span->source] >= 0 && graph->rank[span->source] < graph->count
                     && graph->rank[first] >= 0
                     && graph->rank[first] + (int64_t)span->number <= graph->count, "ranks");
}

static int
is_state(const Graph *graph, int64_t state)
{
    return check(state >= 0 && state < graph->all && graph->head[state] >= -1
                     && graph->head[state] < graph->spans_count, "states");
}

static int
graph_of(PyObject *tuple, Graph *graph, Buffers *buffers)
{
    Py_ssize_t size, k;
    long long number;

    if (!PyTuple_Check(tuple) || PyTuple_Size(tuple) != 10) {
        PyErr_SetString(PyExc_TypeError, "a graph is a tuple of ten");
        return 0;
    }
    if (!is_number(PyTuple_GetItem(tuple, 0), 1, MOST_LENGTH, &number)) {
        return 0;
    }
    graph->length = (Py_ssize_t)number;
    if (!is_number(PyTuple_GetItem(tuple, 1), 1, 2 * MOST_COUNT, &number)) {
        return 0;
    }
    graph->width = number;
    if (!is_number(PyTuple_GetItem(tuple, 2), 1, MOST_COUNT, &number)) {
        return 0;
    }
    graph->stride = number;
    graph->all = (graph->length + 1) * graph->width;
    if ((graph->states = take(buffers, PyTuple_GetItem(tuple, 3), 'i', 0, &graph->count)) == NULL
        || (graph->head = take(buffers, PyTuple_GetItem(tuple, 4), 'i', 0, &size)) == NULL
        || !check(size == graph->all, "head")
        || (graph->rank = take(buffers, PyTuple_GetItem(tuple, 5), 'i', 0, &size)) == NULL
        || !check(size == graph->all, "rank")
        || (graph->spans = take(buffers, PyTuple_GetItem(tuple, 6), 'i', 0, &size)) == NULL
        || !check(size % 4 == 0, "spans")) {
        return 0;
    }
    graph->spans_count = size / 4;
    if ((graph->heads = take(buffers, PyTuple_GetItem(tuple, 7), 'i', 0, &size)) == NULL
        || !check(size == graph->length + 2, "heads")
        || (graph->order = take(buffers, PyTuple_GetItem(tuple, 8), 'i', 0, &size)) == NULL
        || !check(size >= graph->spans_count, "order")) {
        return 0;
    }
    tuple = PyTuple_GetItem(tuple, 9);
    if (!PyTuple_Check(tuple) || PyTuple_Size(tuple) != 6) {
        PyErr_SetString(PyExc_TypeError, "there are six sums");
        return 0;
    }
    for (k = 0; k < 6; k++) {
        graph->sums[k] = take(buffers, PyTuple_GetItem(tuple, k), 'd', 0, &size);
        if (graph->sums[k] == NULL || !check(size == graph->length + 1, "sums")) {
            return 0;
        }
    }
    return 1;
}

/* Bring the costs of one state to all that one piece reaches; 0 if the graph is wrong. */
static int
spread(const Graph *graph, Py_ssize_t from, const int64_t *needed)
{
    const double *here = graph->best + from * graph->layers;
    const Span *span;
    Costs costs;
    double *there, cost, sum;
    int64_t i, a, most;
    Py_ssize_t k, first = 0, stop = graph->layers - 1, layer;
    int32_t state = graph->states[from], n;

    if (!is_state(graph, state)) {
        return 0;
    }
    if (graph->head[state] < 0) {
        return 1;
    }
    while (first < stop && here[first] == Py_HUGE_VAL) {
        first++;
    }
    while (stop > first && here[stop - 1] == Py_HUGE_VAL) {
        stop--;
    }
    i = state / graph->width;
    a = state % graph->width * graph->stride;
    for (k = graph->head[state]; k < graph->spans_count && graph->spans[k].source == state; k++) {
        if (!is_span(graph, k)) {
            return 0;
        }
        span = &graph->spans[k];
        /* With more pieces than this the end is out of reach. */
        most = graph->layers - 1 - needed[span->at];
        most = most < stop ? most : stop;
        if (first >= most) {
            continue;
        }
        costs = costs_of(graph, i, a, span->at);
        there = graph->best
                + graph->rank[span->at * graph->width + strides(span->least, graph->stride)] * graph->layers;
        for (n = 0; n < span->number; n++, there += graph->layers) {
            cost = cost_to(&costs, (strides(span->least, graph->stride) + n) * graph->stride);
            for (layer = first; layer < most; layer++) {
                sum = here[layer] + cost;
                there[layer + 1] = sum < there[layer + 1] ? sum : there[layer + 1];
            }
        }
    }
    return 1;
}

PyDoc_STRVAR(closest_doc,
"closest(graph, needed, best, layers)\n\n"
"Write the least cost of each state by number of pieces to `best`, in which states that may begin have\n"
"0 pieces at no cost and all else is infinite (Bellman's recursion).");

static PyObject *
closest(PyObject *self, PyObject *args)
{
    PyObject *given, *bound, *table;
    Buffers buffers = {.count = 0};
    Graph graph;
    const int64_t *needed_pieces;
    Py_ssize_t size, k;
    int is_right = 0;

    (void)self;
    if (!PyArg_ParseTuple(args, "OOOn", &given, &bound, &table, &graph.layers)
        || !graph_of(given, &graph, &buffers)
        || (needed_pieces = take(&buffers, bound, 'q', 0, &size)) == NULL
        || !check(size == graph.length + 1, "needed")
        || (graph.best = take(&buffers, table, 'd', 1, &size)) == NULL
        || !check(graph.layers > 0 && graph.layers <= MOST_LENGTH + 1
                      && size == graph.count * graph.layers, "best")) {
        goto out;
    }
    for (k = 0; k < size; k++) { /* an int32 at the most: subtracting it from the layers can't overflow */
        if (k <= graph.length && !check(needed_pieces[k] >= 0 && needed_pieces[k] <= NEVER, "needed")) {
            goto out;
        }
    }
    for (k = 0; k < graph.count; k++) { /* pieces go to later samples only, so states rise */
        if (!spread(&graph, k, needed_pieces)) {
            goto out;
        }
        if (k % BLOCK == 0 && PyErr_CheckSignals() < 0) {
            goto out;
        }
    }
    is_right = 1;
out:
    release(&buffers);
    if (!is_right) {
        return NULL;
    }
    Py_INCREF(Py_None);
    return Py_None;
}

PyDoc_STRVAR(trace_doc,
"trace(graph, best, layers, rank, layer, path)\n\n"
"Write the states that lead to one in a layer to `path`, from layer 0 on; of several as cheap the\n"
"lowest. Returns whether there is such a path.");

static PyObject *
trace(PyObject *self, PyObject *args)
{
    PyObject *given, *table, *out;
    Buffers buffers = {.count = 0};
    Graph graph;
    Py_ssize_t size, at_rank, layer, k;
    int32_t *path, state;
    const Span *span;
    Costs costs;
    double least, value;
    int64_t j, b, source, number;
    int is_right = 0;

    (void)self;
    if (!PyArg_ParseTuple(args, "OOnnnO", &given, &table, &graph.layers, &at_rank, &layer, &out)
        || !graph_of(given, &graph, &buffers)
        || (graph.best = take(&buffers, table, 'd', 0, &size)) == NULL
        || !check(graph.layers > 0 && size == graph.count * graph.layers, "best")
        || !check(at_rank >= 0 && at_rank < graph.count, "rank")
        || !check(layer >= 0 && layer < graph.layers, "layer")
        || (path = take(&buffers, out, 'i', 1, &size)) == NULL
        || !check(size == layer + 1, "path")) {
        goto out;
    }
    path[layer] = state = graph.states[at_rank];
    if (!is_state(&graph, state)) {
        goto out;
    }
    is_right = 1;
    while (layer > 0 && is_right) {
        j = state / graph.width;
        b = state % graph.width * graph.stride;
        least = Py_HUGE_VAL;
        source = -1;
        for (k = graph.heads[j]; k < graph.heads[j + 1]; k++) {
            if (!check(k >= 0 && k < graph.spans_count, "heads")
                || !is_span(&graph, graph.order[k])) {
                goto out;
            }
            span = &graph.spans[graph.order[k]];
            number = b / graph.stride - strides(span->least, graph.stride);
            if (span->at != j || number < 0 || number >= span->number) {
                continue;
            }
            costs = costs_of(&graph, span->source / graph.width,
                             span->source % graph.width * graph.stride, j);
            value = graph.best[graph.rank[span->source] * graph.layers + layer - 1]
                    + cost_to(&costs, b);
            if (value < least || (value == least && span->source < source)) {
                least = value;
                source = span->source;
            }
        }
        is_right = source >= 0;
        if (is_right) {
            path[--layer] = state = (int32_t)source;
        }
    }
    release(&buffers);
    return PyBool_FromLong(is_right);
out:
    release(&buffers);
    return NULL;
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

/* The module ------------------------------------------------------------------------------------ */

static PyMethodDef methods[] = {
    {"band", band, METH_VARARGS, band_doc},
    {"closest", closest, METH_VARARGS, closest_doc},
    {"farthest", farthest, METH_VARARGS, farthest_doc},
    {"fewest", fewest, METH_VARARGS, fewest_doc},
    {"needed", needed, METH_VARARGS, needed_doc},
    {"pieces", pieces, METH_VARARGS, pieces_doc},
    {"relaxed", relaxed, METH_VARARGS, relaxed_doc},
    {"spans", spans, METH_VARARGS, spans_doc},
    {"trace", trace, METH_VARARGS, trace_doc},
    {NULL, NULL, 0, NULL},
};

static int
module_exec(PyObject *module)
{
    return PyModule_AddIntConstant(module, "VERSION", KERNEL_VERSION) < 0
                   || PyModule_AddIntConstant(module, "MOST_SPANS", (long)MOST_SPANS) < 0
               ? -1
               : 0;
}

static PyModuleDef_Slot slots[] = {
    {Py_mod_exec, module_exec},
    {0, NULL},
};

static struct PyModuleDef definition = {
    PyModuleDef_HEAD_INIT,
    .m_name = "_paths",
    .m_doc = "The inner loops of the search for rows, compiled.",
    .m_size = 0,
    .m_methods = methods,
    .m_slots = slots,
};

PyMODINIT_FUNC
PyInit__paths(void)
{
    return PyModuleDef_Init(&definition);
}
