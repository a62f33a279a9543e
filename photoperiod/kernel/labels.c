/* All labels within one stretch of a shared column, place by place, as label_walk.py has them. */
#include "_paths.h"

#include <string.h>

#define WORD 64
#define MOVE_WORK 20 /* as in label_walk.py */
#define KEEP_WORK 50
#define NONE (-1)

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

/* Labels that wait, in a list for each place, in the order in which they came. */
typedef struct {
    uint64_t *packed;
    int32_t *pieces, *parent, *next; /* by slot */
    int32_t *first; /* by place */
    int32_t free, unused;
    Py_ssize_t waiting;
} Queue;

/* Rows of labels: the row before each, and its place. */
typedef struct {
    int32_t *parents, *indices;
    Py_ssize_t count, room, before;
} Trail;

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

/* Return how many bits of a word are set. */
static inline int
bits_in(uint64_t word)
{
    int count = 0;

    for (; word != 0; word &= word - 1) {
        count++;
    }
    return count;
}

/* Return the number of the lowest bit that is set, of a word that is not 0. */
static inline int
lowest_bit(uint64_t word)
{
#if defined(__GNUC__)
    return __builtin_ctzll(word);
#else
    int bit = 0;

    for (; !(word & 1); word >>= 1) {
        bit++;
    }
    return bit;
#endif
}

/* Whether a set is contained in another. */
static inline int
is_within(const uint64_t *set, const uint64_t *other, Py_ssize_t words)
{
    Py_ssize_t k;

    for (k = 0; k < words; k++) {
        if (set[k] & ~other[k]) {
            return 0;
        }
    }
    return 1;
}

static inline int
is_any(const uint64_t *set, Py_ssize_t words)
{
    Py_ssize_t k;

    for (k = 0; k < words; k++) {
        if (set[k]) {
            return 1;
        }
    }
    return 0;
}

/* What is reached ------------------------------------------------------------------------------ */

/* Set which places are useful to labels of so many pieces. */
static void
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
static enum status
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

/* Labels that wait ------------------------------------------------------------------------------ */

/* Keep a label for a place, if no other there makes it needless; those that it makes needless go. */
static void
wait(Queue *queue, Py_ssize_t at, int32_t pieces, int32_t parent, const uint64_t *packed,
     Py_ssize_t size)
{
    int32_t slot, before = NONE, after;
    uint64_t *other;

    for (slot = queue->first[at]; slot != NONE; slot = after) {
        other = queue->packed + (Py_ssize_t)slot * size;
        after = queue->next[slot];
        if (queue->pieces[slot] <= pieces && is_within(packed, other, size)) {
            return;
        }
        if (queue->pieces[slot] >= pieces && is_within(other, packed, size)) {
            if (before == NONE) {
                queue->first[at] = after;
            }
            else {
                queue->next[before] = after;
            }
            queue->next[slot] = queue->free;
            queue->free = slot;
            queue->waiting--;
        }
        else {
            before = slot;
        }
    }
    if (queue->free != NONE) {
        slot = queue->free;
        queue->free = queue->next[slot];
    }
    else {
        slot = queue->unused++;
    }
    memcpy(queue->packed + (Py_ssize_t)slot * size, packed, (size_t)size * sizeof *packed);
    queue->pieces[slot] = pieces;
    queue->parent[slot] = parent;
    queue->next[slot] = NONE;
    if (before == NONE) {
        queue->first[at] = slot;
    }
    else {
        queue->next[before] = slot;
    }
    queue->waiting++;
}

/* Place by place -------------------------------------------------------------------------------- */

/* Whether all channels can hold a count of a label to the end of the day. */
static int
holds(const Stretch *walk, Py_ssize_t place, const uint64_t *packed)
{
    const Channel *channel;
    const uint64_t *set;
    int64_t base, bit, count;
    Py_ssize_t counts, k;
    int n, is_held;

    for (n = 0; n < walk->lit; n++) {
        channel = &walk->channels[n];
        set = packed + channel->at;
        base = least_count(&channel->gates, place);
        counts = counts_at(&channel->gates, place);
        is_held = 0;
        for (k = 0; k < channel->rows * channel->words && !is_held; k++) {
            for (bit = k % channel->words * WORD; bit < counts && bit < (k % channel->words + 1) * WORD;
                 bit++) {
                count = base + bit * channel->gates.stride;
                is_held |= (set[k] >> (bit % WORD) & 1) && count >= channel->low_on[place]
                           && count <= channel->high_on[place];
            }
        }
        if (!is_held) {
            return 0;
        }
    }
    return 1;
}

/* Write what the sets of a channel of one label reach to `out`: by row, place and word. */
static void
spread(const Channel *channel, const uint64_t *sets, Py_ssize_t span, uint64_t *restrict out)
{
    Py_ssize_t row, word, k, length = span * channel->words, count;
    const uint64_t *restrict from;
    uint64_t left;

    memset(out, 0, (size_t)(channel->rows * length) * sizeof *out);
    for (row = 0; row < channel->rows; row++, out += length) {
        for (word = 0; word < channel->words; word++) {
            for (left = *sets++; left != 0; left &= left - 1) {
                count = word * WORD + lowest_bit(left);
                if (count >= channel->counts) {
                    break;
                }
                from = channel->table + count * channel->far * channel->words;
                for (k = 0; k < length; k++) {
                    out[k] |= from[k];
                }
            }
        }
    }
}

/* Bring one label to the places that one piece leads to; what does not fit is counted only. */
static int64_t
label_moved(const Stretch *walk, Queue *queue, Py_ssize_t place, Py_ssize_t span, int32_t pieces,
            int32_t row_before, const uint64_t *packed, int64_t room)
{
    const Channel *channel;
    const uint64_t *from, *out = walk->out;
    uint64_t *to;
    int64_t moved = 0;
    Py_ssize_t ahead, row;
    int n, is_alive;

    for (n = 0; n < walk->lit; n++) {
        channel = &walk->channels[n];
        spread(channel, packed + channel->at, span, walk->out + channel->at * span);
    }
    memcpy(walk->moved + walk->idle, packed + walk->idle,
           (size_t)(walk->size - walk->idle) * sizeof *packed);
    for (ahead = 0; ahead < span; ahead++) {
        if (!walk->may_stand[place + 1 + ahead]
            || walk->needed[place + 1 + ahead] > walk->most - pieces - 1) {
            continue;
        }
        is_alive = 1;
        for (n = 0; n < walk->lit && is_alive; n++) {
            channel = &walk->channels[n];
            to = walk->moved + channel->at;
            from = out + channel->at * span + ahead * channel->words;
            for (row = 0; row < channel->rows; row++, to += channel->words,
                from += span * channel->words) {
                memcpy(to, from, (size_t)channel->words * sizeof *to);
            }
            is_alive = is_any(walk->moved + channel->at, channel->rows * channel->words);
        }
        if (is_alive && moved++ < room) {
            wait(queue, place + 1 + ahead, pieces + 1, row_before, walk->moved, walk->size);
        }
    }
    return moved;
}

/* Bring some labels on from a place. */
static enum status
labels_moved(Stretch *walk, Queue *queue, Py_ssize_t place, const int32_t *slots, Py_ssize_t number,
             const int32_t *rows)
{
    Channel *channel;
    const uint64_t *set;
    int64_t held = 0, bits, moved = 0, room;
    Py_ssize_t span = walk->length, k, word;
    int n;

    useful_to(walk, queue->pieces[slots[0]]); /* of the fewest pieces */
    for (n = 0; n < walk->lit; n++) {
        channel = &walk->channels[n];
        if (table_made(walk, channel, place, &held) == EXHAUSTED) {
            return EXHAUSTED;
        }
        span = channel->far < span ? channel->far : span;
    }
    if (span == 0) {
        return FOUND;
    }
    if ((int64_t)span * walk->size > walk->work.most_held) {
        return EXHAUSTED;
    }
    for (n = 0; n < walk->lit; n++) {
        channel = &walk->channels[n];
        for (k = 0, bits = 0; k < number; k++) {
            set = queue->packed + (Py_ssize_t)slots[k] * walk->size + channel->at;
            for (word = 0; word < channel->rows * channel->words; word++) {
                bits += bits_in(set[word]);
            }
        }
        if (is_spent_by(&walk->work, bits * span / 8)) {
            return EXHAUSTED;
        }
    }
    room = walk->work.most_held / walk->size - queue->waiting;
    for (k = 0; k < number; k++) {
        moved += label_moved(walk, queue, place, span, queue->pieces[slots[k]], rows[k],
                             queue->packed + (Py_ssize_t)slots[k] * walk->size, room - moved);
        if (PyErr_CheckSignals() < 0) {
            return INTERRUPTED;
        }
    }
    return is_spent_by(&walk->work, MOVE_WORK * moved) || moved > room ? EXHAUSTED : FOUND;
}

/* Take what waits at a place out of the list, rising in pieces; returns how many labels. */
static Py_ssize_t
labels_at(Queue *queue, Py_ssize_t place, int32_t *slots)
{
    Py_ssize_t count = 0, k;
    int32_t slot;

    for (slot = queue->first[place]; slot != NONE; slot = queue->next[slot]) {
        for (k = count++; k > 0 && queue->pieces[slots[k - 1]] > queue->pieces[slot]; k--) {
            slots[k] = slots[k - 1];
        }
        slots[k] = slot;
    }
    queue->first[place] = NONE;
    queue->waiting -= count;
    return count;
}

/* Labels at the end of the stretch. */
typedef struct {
    int32_t *pieces, *rows;
    uint64_t *packed;
    Py_ssize_t count, room;
} Ended;

static void
end_with(Ended *ended, int32_t pieces, int32_t row, const uint64_t *packed, Py_ssize_t size)
{
    ended->pieces[ended->count] = pieces;
    ended->rows[ended->count] = row;
    memcpy(ended->packed + ended->count * size, packed, (size_t)size * sizeof *packed);
    ended->count++;
}

/* Go through all places; memory for the labels of one place is `slots` and `rows`. */
static enum status
walked(Stretch *walk, Queue *queue, Trail *trail, Ended *ended, int holds_last, int32_t *slots,
       int32_t *rows)
{
    enum status status = FOUND;
    Py_ssize_t place, count, k, some;
    int32_t pieces;

    for (place = 0; place <= walk->end; place++) {
        count = labels_at(queue, place, slots);
        if (count == 0) {
            continue;
        }
        if (is_spent_by(&walk->work, KEEP_WORK * (int64_t)count)) {
            return EXHAUSTED;
        }
        if (place == walk->length) {
            for (k = 0; k < count; k++) {
                if (ended->count == ended->room) {
                    return NO_ROOM;
                }
                end_with(ended, queue->pieces[slots[k]], queue->parent[slots[k]],
                         queue->packed + (Py_ssize_t)slots[k] * walk->size, walk->size);
            }
            break;
        }
        if (trail->count + count > trail->room) {
            return NO_ROOM;
        }
        for (k = 0; k < count; k++) {
            trail->parents[trail->count] = queue->parent[slots[k]];
            trail->indices[trail->count] = (int32_t)place;
            rows[k] = (int32_t)(trail->before + trail->count++);
        }
        for (k = 0; k < count && holds_last && queue->pieces[slots[k]] < walk->limit; k++) {
            if (holds(walk, place, queue->packed + (Py_ssize_t)slots[k] * walk->size)) {
                pieces = queue->pieces[slots[k]];
                ended->count = 0; /* fewer pieces than before */
                end_with(ended, pieces + 1, rows[k],
                         queue->packed + (Py_ssize_t)slots[k] * walk->size, walk->size);
                walk->limit = pieces;
                break;
            }
        }
        some = 0; /* of a level that is held the last piece leads nowhere */
        while (some < count && queue->pieces[slots[some]] + holds_last < walk->limit) {
            some++;
        }
        if (some > 0) {
            status = labels_moved(walk, queue, place, slots, some, rows);
            if (status != FOUND) {
                return status;
            }
        }
        for (k = 0; k < count; k++) {
            queue->next[slots[k]] = queue->free;
            queue->free = slots[k];
        }
    }
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
static int
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

PyDoc_STRVAR(labels_doc,
"labels(stretch, entering, first_row, memory, queue, trail, ended)\n\n"
"Bring labels through a stretch, as `label_walk.walked` does. Returns (status, work spent, rows, labels\n"
"that ended); a status says that rows or labels have too little room.");

static PyObject *
labels(PyObject *self, PyObject *args)
{
    PyObject *given, *g[3], *m[6], *q[4], *t[2], *e[3];
    Buffers buffers = {.count = 0};
    Stretch walk;
    Queue queue = {.free = NONE, .unused = 0, .waiting = 0};
    Trail trail = {.count = 0};
    Ended ended = {.count = 0};
    const int32_t *pieces, *rows;
    const uint64_t *packed;
    int32_t *slots, *rows_here;
    Py_ssize_t count, size, room, k;
    int holds_last;
    enum status status = FOUND;
    PyObject *result = NULL;

    (void)self;
    if (!PyArg_ParseTuple(args, "O(OOO)n(OOOOOO)(OOOO)(OO)(OOO)", &given, &g[0], &g[1], &g[2],
                          &trail.before, &m[0], &m[1], &m[2], &m[3], &m[4], &m[5], &q[0], &q[1], &q[2],
                          &q[3], &t[0], &t[1], &e[0], &e[1], &e[2])
        || !stretch_of(given, &walk, &holds_last, &buffers)
        || (pieces = take(&buffers, g[0], 'i', 0, &count)) == NULL
        || !check(count > 0, "entering")
        || (rows = take(&buffers, g[1], 'i', 0, &size)) == NULL || !check(size == count, "rows")
        || (packed = take(&buffers, g[2], 'w', 0, &size)) == NULL
        || !check(count <= walk.work.most_held / walk.size && size == count * walk.size, "packed")
        || (walk.tables = take(&buffers, m[0], 'w', 1, &size)) == NULL
        || !check(size >= walk.work.most_held, "tables")
        || (walk.out = take(&buffers, m[1], 'w', 1, &size)) == NULL
        || !check(size >= walk.work.most_held || size / walk.size >= walk.length, "out")
        || (walk.moved = take(&buffers, m[2], 'w', 1, &size)) == NULL
        || !check(size >= walk.size, "moved")
        || (walk.spans = take(&buffers, m[3], 'i', 1, &size)) == NULL
        || !check(size / 4 >= walk.work.most_held / 2, "spans")
        || (slots = take(&buffers, m[4], 'i', 1, &room)) == NULL
        || (rows_here = take(&buffers, m[5], 'i', 1, &size)) == NULL
        || !check(size == room && room >= walk.work.most_held / walk.size, "slots")
        || (queue.packed = take(&buffers, q[0], 'w', 1, &room)) == NULL
        /* What waits, and beside it what is looked at. */
        || !check(room / walk.size >= 2 * (walk.work.most_held / walk.size), "queue")
        || (queue.pieces = take(&buffers, q[1], 'i', 1, &size)) == NULL
        || !check(size >= room / walk.size, "pieces")
        || (queue.parent = take(&buffers, q[2], 'i', 1, &size)) == NULL
        || !check(size >= room / walk.size, "parent")
        || (queue.next = take(&buffers, q[3], 'i', 1, &size)) == NULL
        || !check(size >= room / walk.size + walk.length + 1, "next")
        || (trail.parents = take(&buffers, t[0], 'i', 1, &trail.room)) == NULL
        || (trail.indices = take(&buffers, t[1], 'i', 1, &size)) == NULL
        || !check(size == trail.room, "trail")
        || !check(trail.before >= 0 && trail.before <= INT32_MAX - trail.room, "trail")
        || (ended.pieces = take(&buffers, e[0], 'i', 1, &ended.room)) == NULL
        || (ended.rows = take(&buffers, e[1], 'i', 1, &size)) == NULL
        || !check(size == ended.room && size > 0, "ended")
        || (ended.packed = take(&buffers, e[2], 'w', 1, &size)) == NULL
        || !check(size / walk.size >= ended.room, "ended")) {
        goto out;
    }
    queue.first = queue.next + room / walk.size; /* behind those of the slots */
    for (k = 0; k <= walk.length; k++) {
        queue.first[k] = NONE;
    }
    for (k = 1, size = pieces[0]; k < count; k++) {
        size = pieces[k] < size ? pieces[k] : size;
    }
    if (!check(size >= 0, "pieces")) {
        goto out;
    }
    useful_to(&walk, size);
    walk.end = walk.last;
    for (k = 0; k < count; k++) {
        if (!check(pieces[k] <= walk.most, "pieces")) {
            goto out;
        }
        wait(&queue, 0, pieces[k], rows[k], packed + k * walk.size, walk.size);
    }
    status = walked(&walk, &queue, &trail, &ended, holds_last, slots, rows_here);
    if (status != INTERRUPTED) {
        result = Py_BuildValue("iLnn", (int)status, (long long)walk.work.spent, trail.count, ended.count);
    }
out:
    release(&buffers);
    return result;
}

PyMethodDef labels_methods[] = {
    {"labels", labels, METH_VARARGS, labels_doc},
    {NULL, NULL, 0, NULL},
};
