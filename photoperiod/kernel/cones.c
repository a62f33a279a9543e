/* Cones: what one piece from a corner can reach, as cones.py has it. */
#include "_paths.h"

#include <string.h>

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

Py_ssize_t
first_of(const uint8_t *useful, Py_ssize_t last)
{
    Py_ssize_t at = 0;

    while (at <= last && !useful[at]) {
        at++;
    }
    return at;
}

Py_ssize_t
last_of(const uint8_t *useful, Py_ssize_t places)
{
    while (places > 0 && !useful[places - 1]) {
        places--;
    }
    return places - 1;
}

void
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

enum status
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

void
set_useful(Search *search, int64_t pieces_left)
{
    Py_ssize_t at;

    for (at = 0; at <= search->gates.length; at++) {
        search->useful[at] = search->places[at] && search->needed[at] <= pieces_left;
    }
    search->last = last_of(search->useful, search->gates.length + 1);
    search->first = first_of(search->useful, search->last);
}

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
    Py_ssize_t corners, size, room, places, fresh, total = 0;
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
    if (!are_corners(&gates, from.index, from.count, corners)) {
        goto out;
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

PyMethodDef cones_methods[] = {
    {"spans", spans, METH_VARARGS, spans_doc},
    {NULL, NULL, 0, NULL},
};
