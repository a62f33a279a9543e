/* All labels within one stretch of a shared column, place by place, as label_walk.py has them. */
#include "_stretch.h"

#include <string.h>

#define MOVE_WORK 20 /* as in label_walk.py */
#define KEEP_WORK 50
#define NONE (-1)

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

/* Labels that wait ------------------------------------------------------------------------------ */

/* Keep a label for a place, if no other there makes it needless; those that it makes needless go. */
static void
put_in(Queue *queue, Py_ssize_t at, int32_t pieces, int32_t parent, const uint64_t *packed,
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
            put_in(queue, place + 1 + ahead, pieces + 1, row_before, walk->moved, walk->size);
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
        put_in(&queue, 0, pieces[k], rows[k], packed + k * walk.size, walk.size);
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
