/* What the files of the walk through a shared column share: its channels, and the stretch. */
#ifndef PHOTOPERIOD_STRETCH_H
#define PHOTOPERIOD_STRETCH_H

#include "_paths.h"

#define WORD 64

#if defined(__GNUC__)
#pragma GCC visibility push(hidden)
#endif

/* One channel that is lit. */
typedef struct {
    Gates gates;
    Py_ssize_t rows, words; /* sets of a label, words of a set */
    Py_ssize_t at; /* its first word in a packed label */
    const int64_t *low_on, *high_on; /* counts that can be held from there to the end; NULL if not asked */
    const uint64_t *table; /* what its counts reach from the place that is looked at */
    Py_ssize_t counts, far;
} Channel;

/* What is walked through. */
typedef struct {
    Channel channels[MOST_CHANNELS];
    int lit;
    Py_ssize_t length, size; /* places but the last one, words of a label */
    Py_ssize_t idle; /* from this word on a label has what channels that are dark remember */
    const int64_t *needed;
    const uint8_t *may_stand;
    uint8_t *useful;
    Py_ssize_t last, end; /* useful place; of labels that come in */
    int64_t most, limit, pieces; /* useful to labels of so many pieces */
    Work work;
    uint64_t *tables; /* with room for as many words as may be held */
    uint64_t *out, *moved; /* what one label reaches, channel by channel; one label that came there */
    Span *spans; /* what is reached from one place: room for half as many as numbers may be held */
} Stretch;

/* Counts and bits ------------------------------------------------------------------------------ */

/* Return the least count that a row may have at a place: bit 0. */
static inline int64_t
least_count(const Gates *gates, Py_ssize_t at)
{
    int64_t least;

    if (at == gates->length) {
        return gates->end;
    }
    least = gates->low[at] > gates->first ? gates->low[at] : gates->first;
    return strides(least + gates->stride - 1, gates->stride) * gates->stride;
}

/* Return how many counts a row may have at a place. */
static inline Py_ssize_t
counts_at(const Gates *gates, Py_ssize_t at)
{
    int64_t room = gates->high[at] - least_count(gates, at);

    return room < 0 ? 0 : (Py_ssize_t)(strides(room, gates->stride) + 1);
}

/* Make the table of a channel at a place, behind those of others. EXHAUSTED if it is too much. */
enum status table_made(Stretch *walk, Channel *channel, Py_ssize_t place, int64_t *held);

/* Set which places are useful to labels of so many pieces. */
void useful_to(Stretch *walk, int64_t pieces);

/* Read a stretch from (channels, needed, may_stand, useful, most, holds_last, work, size). */
int stretch_of(PyObject *tuple, Stretch *walk, int *holds_last, Buffers *buffers);

#if defined(__GNUC__)
#pragma GCC visibility pop
#endif

#endif
