/* What Python gives to the kernel is read here, and refused if it does not fit. */
#include "_paths.h"

#include <string.h>

void
release(Buffers *buffers)
{
    while (buffers->count > 0) {
        PyBuffer_Release(&buffers->held[--buffers->count]);
    }
}
void *
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
    else if (kind == 'w') {
        right = strcmp(format, "Q") == 0 || strcmp(format, "L") == 0;
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

int
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

int
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

int
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

int
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

int
are_corners(const Gates *gates, const int64_t *index, const int64_t *count, Py_ssize_t corners)
{
    Py_ssize_t k;

    for (k = 0; k < corners; k++) {
        if (!check(index[k] >= 0 && index[k] < gates->length && count[k] >= 0
                       && count[k] < MOST_COUNT, "corners")) {
            return 0;
        }
    }
    return 1;
}

int
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
