/* All pieces on some path of at most so many, as least_squares.py finds them. */
#include "_paths.h"

#include <string.h>

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
    uint8_t *seen, *fresh;
    Span *found, *scratch;
    Py_ssize_t count, size, room, most, most_edges, number, k, spans_count = 0, edges = 0;
    Py_ssize_t frontier; /* the first so many states are it; what was before is done */
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
        || (fresh = take(&buffers, g[2], 'b', 1, &size)) == NULL
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
    for (k = 0; k < count; k++) {
        states[k] = begin[k];
        seen[begin[k]] = 1;
    }
    frontier = count;
    for (number = 1; number <= most && frontier > 0; number++) {
        set_useful(&search, most - number);
        held = total = 0;
        smallest = INT32_MAX;
        largest = -1;
        for (k = 0; k < frontier; k++) {
            head[states[k]] = (int32_t)spans_count;
            status = pieces_from(&search, states[k], &held, &total, scratch, found, room,
                                 &spans_count, seen, fresh, &smallest, &largest);
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
        frontier = fresh_moved(fresh, smallest, largest, states);
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

PyMethodDef pieces_methods[] = {
    {"pieces", pieces, METH_VARARGS, pieces_doc},
    {NULL, NULL, 0, NULL},
};
