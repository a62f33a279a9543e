/*
 * What the files of the kernel share: gates, cones and the walk through them.
 *
 * The kernel does the inner loops of the search for rows. All of it stands in numpy, too, in
 * photoperiod/setpoints, and must give the same numbers, bit by bit: the same operations on doubles in the
 * same order, the same work counted at the same places. So it is compiled without fused multiply-add
 * (-ffp-contract=off).
 *
 * All memory comes from the caller, as buffers, and nothing is written before it is known to fit.
 * Counts are below a million (2^20; schedules have up to 100,000 levels) and a day has 86,400 samples:
 * every product here is below 2^53, so that neither a 64-bit integer nor a double that holds one can
 * overflow or round.
 *
 * Written for the stable ABI of Python 3.11. The functions that Python calls are listed at the end of each
 * file; _paths.c makes one module of them.
 */
#ifndef PHOTOPERIOD_PATHS_H
#define PHOTOPERIOD_PATHS_H

#define Py_LIMITED_API 0x030B0000
#define PY_SSIZE_T_CLEAN
#include <Python.h>
#include <float.h>
#include <stdint.h>

#ifdef Py_GIL_DISABLED
#error "the stable ABI does not know free-threaded Python; numpy does the work there"
#endif
#if FLT_EVAL_METHOD != 0
#error "doubles of more than 64 bits would give other numbers than numpy"
#endif

#if defined(__GNUC__) /* of the module only its beginning is seen from outside */
#pragma GCC visibility push(hidden)
#endif

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

#define MOST_CHANNELS 64 /* that share a column of times */
#define MOST_BUFFERS (8 * MOST_CHANNELS + 24)

typedef struct {
    Py_buffer held[MOST_BUFFERS];
    int count;
} Buffers;

/* Give the buffers back. */
void release(Buffers *buffers);

/* Take a buffer of items of one kind: 'd' doubles, 'q' and 'i' integers of 8 and 4 bytes, 'w' words of
   64 bits, 'b' bytes or booleans. Sets *count to its items; NULL and an exception if it is something else. */
void *take(Buffers *buffers, PyObject *object, char kind, int writable, Py_ssize_t *count);

/* Read a whole number within bounds; 0 and an exception if it is none. */
int is_number(PyObject *object, long long least, long long most, long long *number);

/* Return whether buffers fit, with an exception if not. */
static inline int
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
int gates_of(PyObject *tuple, Gates *gates, Buffers *buffers);

/* Work ----------------------------------------------------------------------------------------- */

typedef struct {
    int64_t spent, limit, most_held;
} Work;

/* Read work from (spent, limit, most held). */
int work_of(PyObject *tuple, Work *work);

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

/* Where a walk gets its corners from: the sample and the count of each. */
typedef struct {
    const int32_t *states; /* index * width + count / stride, or: */
    const int64_t *index, *count;
    int64_t width, stride;
} Corners;

/* Return the first useful place, `last + 1` if there is none up to the last one. */
Py_ssize_t first_of(const uint8_t *useful, Py_ssize_t last);

/* Return the last useful place, -1 if there is none. */
Py_ssize_t last_of(const uint8_t *useful, Py_ssize_t places);

/* Begin a walk up to the last useful place; without one there is nothing to walk. */
void walk_begins(Walk *walk, const Gates *gates, const uint8_t *useful, Py_ssize_t first,
                 Py_ssize_t last, Py_ssize_t corners, Py_ssize_t block_most);

/* Go one chunk on. Writes up to MOST_SPANS spans. FOUND if there was one, NO_PATH at the end of the
   walk, EXHAUSTED if the work is spent. */
enum status one_chunk_on(Walk *walk, const Corners *from, Work *work, Span *spans, Py_ssize_t *count);

/* Searches ------------------------------------------------------------------------------------- */

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

/* Set from which places so many pieces may suffice. */
void set_useful(Search *search, int64_t pieces_left);

/* Read (gates, work, needed, places, useful, width). */
int search_of(PyObject *tuple, Search *search, Buffers *buffers);

/* Return whether corners, by their samples and counts, are some at which a piece may begin. */
int are_corners(const Gates *gates, const int64_t *index, const int64_t *count, Py_ssize_t corners);

/* Return whether states are some at which a piece may begin. */
int are_states(const Search *search, const int32_t *states, Py_ssize_t count);

/* Move the states that are marked fresh from one to another to a list, rising; returns how many. */
Py_ssize_t fresh_moved(uint8_t *fresh, int32_t from, int32_t to, int32_t *list);

/* The functions of each file ------------------------------------------------------------------- */

extern PyMethodDef bound_methods[], circle_methods[], closest_methods[], cones_methods[],
    fewest_methods[], labels_methods[], pieces_methods[];

#if defined(__GNUC__)
#pragma GCC visibility pop
#endif

#endif
