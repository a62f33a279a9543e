/* Pieces from many states of a day that is never dark, as circle.py has them. */
#include "_paths.h"

#include <string.h>

/* Where pieces begin and may end. A state here is place * width + strides above the least count of the
   place; a place has `grid` samples. */
typedef struct {
    Gates gates;
    Work work;
    Py_ssize_t grid, width, places, states;
    const int64_t *base;      /* the least count of each place */
    const int32_t *source;    /* the states at which pieces begin */
    const int64_t *index, *count; /* their samples and counts */
    Py_ssize_t begins;
    const int32_t *before;    /* how many wanted states there are before each; NULL if all are */
    int32_t *found;           /* source, first and number of each piece, behind each other */
    Py_ssize_t room, kept;    /* pieces for which there is room; those kept, written or not */
} Onward;

/* Keep the pieces of a chunk that may end at a wanted state. */
static void
keep(Onward *onward, const Span *spans, Py_ssize_t count, Py_ssize_t block)
{
    Py_ssize_t k, place;
    int64_t first;
    int32_t *piece;

    for (k = 0; k < count; k++) {
        place = spans[k].at / onward->grid;
        first = place * onward->width
                + strides(spans[k].least - onward->base[place], onward->gates.stride);
        if (onward->before != NULL
            && onward->before[first + spans[k].number] == onward->before[first]) {
            continue;
        }
        if (onward->kept < onward->room) {
            piece = &onward->found[3 * onward->kept];
            piece[0] = onward->source[block + spans[k].source];
            piece[1] = (int32_t)first;
            piece[2] = spans[k].number;
        }
        onward->kept++;
    }
}

/* Go on from a block of states after the other. */
static enum status
go_onward(Onward *onward, const uint8_t *useful, Py_ssize_t block_most, Span *scratch)
{
    Walk walk;
    Corners from = {NULL, NULL, NULL, 1, 1};
    Py_ssize_t block, size, count, last = last_of(useful, onward->gates.length + 1);
    Py_ssize_t first = first_of(useful, last);
    enum status status;

    for (block = 0; block < onward->begins; block += block_most) {
        size = onward->begins - block < block_most ? onward->begins - block : block_most;
        from.index = onward->index + block;
        from.count = onward->count + block;
        walk_begins(&walk, &onward->gates, useful, first, last, size, BLOCK);
        while ((status = one_chunk_on(&walk, &from, &onward->work, scratch, &count)) == FOUND) {
            keep(onward, scratch, count, block);
            if (PyErr_CheckSignals() < 0) {
                return INTERRUPTED;
            }
        }
        if (status == EXHAUSTED || onward->kept * 3 / 2 > onward->work.most_held) {
            return EXHAUSTED;
        }
        if (onward->kept > onward->room) {
            return NO_ROOM;
        }
    }
    return FOUND;
}

/* Read what Python gives; 0 and an exception if it does not fit. */
static int
onward_of(PyObject *tuple, Onward *onward, Buffers *buffers)
{
    PyObject *part[5];
    long long number;
    Py_ssize_t size, k;

    if (!PyTuple_Check(tuple) || PyTuple_Size(tuple) != 7) {
        PyErr_SetString(PyExc_TypeError, "states are a tuple of seven");
        return 0;
    }
    for (k = 0; k < 5; k++) {
        part[k] = PyTuple_GetItem(tuple, k);
    }
    if (!is_number(PyTuple_GetItem(tuple, 5), 1, MOST_LENGTH, &number)) {
        return 0;
    }
    onward->grid = (Py_ssize_t)number;
    if (!is_number(PyTuple_GetItem(tuple, 6), 1, MOST_COUNT, &number)) {
        return 0;
    }
    onward->width = (Py_ssize_t)number;
    if ((onward->base = take(buffers, part[0], 'q', 0, &onward->places)) == NULL
        || !check(onward->places > 0 && onward->places <= MOST_LENGTH
                      && (onward->places - 1) * onward->grid < onward->gates.length
                      && onward->places * onward->grid >= onward->gates.length, "base")
        || (onward->source = take(buffers, part[1], 'i', 0, &onward->begins)) == NULL
        || (onward->index = take(buffers, part[2], 'q', 0, &size)) == NULL
        || !check(size == onward->begins && size <= INT32_MAX, "index")
        || (onward->count = take(buffers, part[3], 'q', 0, &size)) == NULL
        || !check(size == onward->begins, "count")) {
        return 0;
    }
    onward->states = onward->places * onward->width; /* at most 2^37 */
    if (!check(onward->states <= INT32_MAX, "states")) {
        return 0;
    }
    if (!are_corners(&onward->gates, onward->index, onward->count, onward->begins)) {
        return 0;
    }
    for (k = 0; k < onward->places; k++) { /* what a gate lets through has a state */
        size = k * onward->grid;
        if (!check(onward->base[k] >= onward->gates.first
                       && onward->base[k] >= onward->gates.low[size]
                       && onward->base[k] % onward->gates.stride == 0
                       && (onward->gates.high[size] < onward->base[k]
                           || strides(onward->gates.high[size] - onward->base[k],
                                      onward->gates.stride) < onward->width), "base")) {
            return 0;
        }
    }
    onward->before = NULL;
    if (part[4] != Py_None) {
        onward->before = take(buffers, part[4], 'i', 0, &size);
        return onward->before != NULL && check(size == onward->states + 1, "before");
    }
    return 1;
}

PyDoc_STRVAR(onward_doc,
"onward(gates, work, states, useful, block, found, scratch)\n\n"
"Write the single pieces from some states to `found`, three numbers each, as `circle._Side.onward`\n"
"gives them. `states` are (base, source, index, count, before or None, grid, width). Returns (status,\n"
"work spent, how many).");

static PyObject *
onward(PyObject *self, PyObject *args)
{
    PyObject *given, *spent, *states, *useful, *found, *scratch, *result = NULL;
    Buffers buffers = {.count = 0};
    Onward from = {.kept = 0};
    const uint8_t *is_useful;
    Span *spans;
    Py_ssize_t size, block, k;
    enum status status;

    (void)self;
    if (!PyArg_ParseTuple(args, "OOOOnOO", &given, &spent, &states, &useful, &block, &found, &scratch)
        || !gates_of(given, &from.gates, &buffers) || !work_of(spent, &from.work)
        || !check(from.gates.end < 0, "gates") || !onward_of(states, &from, &buffers)
        || (is_useful = take(&buffers, useful, 'b', 0, &size)) == NULL
        || !check(size == from.gates.length + 1 && !is_useful[from.gates.length] && block > 0, "useful")
        || (from.found = take(&buffers, found, 'i', 1, &from.room)) == NULL
        || (spans = take(&buffers, scratch, 'i', 1, &size)) == NULL
        || !check(size >= 4 * MOST_SPANS, "scratch")) {
        goto out;
    }
    for (k = 0; k < from.gates.length; k++) { /* pieces end at places only */
        if (!check(!is_useful[k] || k % from.grid == 0, "useful")) {
            goto out;
        }
    }
    from.room /= 3;
    status = go_onward(&from, is_useful, block, spans);
    if (status != INTERRUPTED) {
        size = from.kept < from.room ? from.kept : from.room;
        result = Py_BuildValue("iLn", (int)status, (long long)from.work.spent, size);
    }
out:
    release(&buffers);
    return result;
}

PyMethodDef circle_methods[] = {
    {"onward", onward, METH_VARARGS, onward_doc},
    {NULL, NULL, 0, NULL},
};
