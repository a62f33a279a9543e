/* A stretch of a shared column: how it is read, and what its counts reach, as count_sets.py has it. */
#include "_stretch.h"

#include <string.h>

/* Return a word with the bits from one to another (left out), both from 0 to 64. */
static inline uint64_t
bits_of(int64_t from, int64_t to)
{
    uint64_t below = to >= WORD ? ~(uint64_t)0 : ((uint64_t)1 << to) - 1;

    return from >= WORD ? 0 : below & (~(uint64_t)0 << from);
}

static inline void
set_bits(uint64_t *set, Py_ssize_t words, int64_t from, int64_t number)
{
    int64_t to = from + number, word;

    for (word = from / WORD; word < words && word * WORD < to; word++) {
        set[word] |= bits_of(from > word * WORD ? from - word * WORD : 0,
                             to < (word + 1) * WORD ? to - word * WORD : WORD);
    }
}

/* What is reached ------------------------------------------------------------------------------ */

/* Set which places are useful to labels of so many pieces. */
void
useful_to(Stretch *walk, int64_t pieces)
{
    Py_ssize_t k;

    if (walk->pieces == pieces) {
        return;
    }
    walk->pieces = pieces;
    walk->last = 0;
    for (k = 0; k <= walk->length; k++) {
        walk->useful[k] = walk->may_stand[k] && walk->needed[k] <= walk->most - pieces - 1;
        walk->last = walk->useful[k] ? k : walk->last;
    }
}

/* Write what one count reaches to `spans`, behind those of others; 0 if there is no room. */
static int
reached(const Stretch *walk, const Gates *gates, Py_ssize_t place, Py_ssize_t number, Py_ssize_t *found)
{
    Py_ssize_t last = walk->last < gates->size - 1 ? walk->last : gates->size - 1, at;
    Cone cone;
    Span span;
    int line;

    for (line = 0; line < gates->lines; line++) {
        cone.source = (int32_t)number;
        cone.index = (int32_t)place;
        cone.base = (double)(least_count(gates, place) + number * gates->stride);
        cone.flattest = gates->sign[line] > 0 ? 0.0 : -Py_HUGE_VAL;
        cone.steepest = gates->sign[line] < 0 ? 0.0 : Py_HUGE_VAL;
        for (at = place + 1; at <= last; at++) {
            if (!narrowed(&cone, gates->lower[line][at], gates->upper[line][at],
                          (double)(at - place))) {
                break;
            }
            if (walk->useful[at] && counts_in(gates, &cone, at - place, at, &span)) {
                if (*found == walk->work.most_held / 2) {
                    return 0;
                }
                walk->spans[(*found)++] = span;
            }
        }
    }
    return 1;
}

/* Make the table of a channel at a place, behind those of others. EXHAUSTED if it is too much. */
enum status
table_made(Stretch *walk, Channel *channel, Py_ssize_t place, int64_t *held)
{
    const Gates *gates = &channel->gates;
    Py_ssize_t found = 0, far = 0, k;
    int64_t words;
    uint64_t *table = walk->tables + *held;
    const Span *span;

    channel->counts = counts_at(gates, place);
    for (k = 0; k < channel->counts; k++) {
        if (!reached(walk, gates, place, k, &found)) {
            return EXHAUSTED;
        }
    }
    for (k = 0; k < found; k++) {
        far = walk->spans[k].at - place > far ? walk->spans[k].at - place : far;
    }
    words = (int64_t)channel->counts * far * channel->words;
    *held += words;
    if (*held > walk->work.most_held || is_spent_by(&walk->work, (int64_t)channel->counts * far)) {
        return EXHAUSTED;
    }
    memset(table, 0, (size_t)words * sizeof *table);
    for (k = 0; k < found; k++) {
        span = &walk->spans[k];
        set_bits(table + ((Py_ssize_t)span->source * far + (span->at - place - 1)) * channel->words,
                 channel->words,
                 strides(span->least - least_count(gates, span->at), gates->stride), span->number);
    }
    channel->table = table;
    channel->far = far;
    return FOUND;
}

/* What Python gives ------------------------------------------------------------------------------ */

/* Read a channel from (gates, rows, words, low_on, high_on); the last two may be None. */
static int
channel_of(PyObject *tuple, Channel *channel, Buffers *buffers)
{
    Py_ssize_t size;
    long long number;
    PyObject *on;
    int k;

    if (!PyTuple_Check(tuple) || PyTuple_Size(tuple) != 5) {
        PyErr_SetString(PyExc_TypeError, "a channel is a tuple of five");
        return 0;
    }
    if (!gates_of(PyTuple_GetItem(tuple, 0), &channel->gates, buffers)
        || !is_number(PyTuple_GetItem(tuple, 1), 1, MOST_COUNT, &number)) {
        return 0;
    }
    channel->rows = (Py_ssize_t)number;
    if (!is_number(PyTuple_GetItem(tuple, 2), 1, MOST_COUNT / WORD, &number)) {
        return 0;
    }
    channel->words = (Py_ssize_t)number;
    for (size = 0; size < channel->gates.length; size++) { /* every count has a bit */
        if (!check(counts_at(&channel->gates, size) <= channel->words * WORD, "words")) {
            return 0;
        }
    }
    for (k = 0; k < 2; k++) {
        on = PyTuple_GetItem(tuple, 3 + k);
        *(k == 0 ? &channel->low_on : &channel->high_on) = NULL;
        if (on != Py_None) {
            *(k == 0 ? &channel->low_on : &channel->high_on) = take(buffers, on, 'q', 0, &size);
            if (PyErr_Occurred() || !check(size == channel->gates.length, "counts held")) {
                return 0;
            }
        }
    }
    return 1;
}

/* Read a stretch from (channels, needed, may_stand, useful, most, holds_last, work, size). */
int
stretch_of(PyObject *tuple, Stretch *walk, int *holds_last, Buffers *buffers)
{
    PyObject *channels;
    Py_ssize_t size;
    long long number;
    int n;

    if (!PyTuple_Check(tuple) || PyTuple_Size(tuple) != 8
        || !PyTuple_Check(channels = PyTuple_GetItem(tuple, 0))) {
        PyErr_SetString(PyExc_TypeError, "a stretch is a tuple of eight");
        return 0;
    }
    if ((walk->needed = take(buffers, PyTuple_GetItem(tuple, 1), 'q', 0, &size)) == NULL
        || !check(size >= 2 && size <= MOST_LENGTH + 1, "needed")) {
        return 0;
    }
    walk->length = size - 1;
    if ((walk->may_stand = take(buffers, PyTuple_GetItem(tuple, 2), 'b', 0, &size)) == NULL
        || !check(size == walk->length + 1, "may_stand")
        || (walk->useful = take(buffers, PyTuple_GetItem(tuple, 3), 'b', 1, &size)) == NULL
        || !check(size == walk->length + 1, "useful")
        || !is_number(PyTuple_GetItem(tuple, 4), 0, 2 * MOST_LENGTH, &number)) {
        return 0;
    }
    walk->most = walk->limit = number;
    walk->pieces = -1;
    if (!is_number(PyTuple_GetItem(tuple, 5), 0, 1, &number)) {
        return 0;
    }
    *holds_last = (int)number;
    if (!work_of(PyTuple_GetItem(tuple, 6), &walk->work)
        || !is_number(PyTuple_GetItem(tuple, 7), 1, INT32_MAX, &number)) {
        return 0;
    }
    walk->size = (Py_ssize_t)number;
    walk->lit = (int)PyTuple_Size(channels);
    if (!check(walk->lit > 0 && PyTuple_Size(channels) <= MOST_CHANNELS, "channels")
        || !check(walk->work.most_held <= INT32_MAX, "most held")) {
        return 0;
    }
    walk->idle = 0;
    for (n = 0; n < walk->lit; n++) {
        if (!channel_of(PyTuple_GetItem(channels, n), &walk->channels[n], buffers)) {
            return 0;
        }
        walk->channels[n].at = walk->idle;
        walk->idle += walk->channels[n].rows * walk->channels[n].words; /* at most 64 * 2^34 */
        /* A label may stand at each place but the last, at that too if pieces may end there. */
        if (!check(walk->channels[n].gates.length >= walk->length, "gates")
            || !check(!walk->may_stand[walk->length]
                          || walk->channels[n].gates.size > walk->length, "gates")
            || !check(!*holds_last || (walk->channels[n].low_on != NULL
                                       && walk->channels[n].high_on != NULL), "counts held")) {
            return 0;
        }
    }
    return check(walk->idle <= walk->size, "size");
}
