/* The fewest pieces: breadth first over places and counts, as segments.py has it. */
#include "_paths.h"

#include <string.h>

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

Py_ssize_t
fresh_moved(uint8_t *fresh, int32_t from, int32_t to, int32_t *list)
{
    int32_t state;
    Py_ssize_t count = 0;
    uint64_t eight;

    for (state = from; state <= to; state++) {
        while (state + 8 <= to) {
            memcpy(&eight, &fresh[state], 8);
            if (eight != 0) {
                break;
            }
            state += 8;
        }
        if (fresh[state]) {
            fresh[state] = 0;
            list[count++] = state;
        }
    }
    return count;
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
    breadth->count = fresh_moved(breadth->fresh, smallest, largest, breadth->frontier);
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

PyMethodDef fewest_methods[] = {
    {"fewest", fewest, METH_VARARGS, fewest_doc},
    {NULL, NULL, 0, NULL},
};
