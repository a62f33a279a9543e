/* The path closest to a plan, by Bellman's recursion, as least_squares.py has it. */
#include "_paths.h"

typedef struct {
    Py_ssize_t length, count, spans_count, layers;
    int64_t width, stride, all;
    const int32_t *states, *head, *rank, *heads, *order;
    const Span *spans;
    const double *sums[6];
    double coarse; /* added to a cost and taken off again, it rounds it */
    double *best; /* by state and layer: the least cost of so many pieces up to there */
} Graph;

/* What the costs of all pieces from (i, a) to j have in common. */
typedef struct {
    double i, a, span, fixed, along, square, coarse;
} Costs;

static inline Costs
costs_of(const Graph *graph, int64_t i, int64_t a, int64_t j)
{
    Costs c;
    double w0 = graph->sums[0][j] - graph->sums[0][i], w1 = graph->sums[1][j] - graph->sums[1][i];
    double w2 = graph->sums[2][j] - graph->sums[2][i], y0 = graph->sums[3][j] - graph->sums[3][i];
    double y1 = graph->sums[4][j] - graph->sums[4][i], y2 = graph->sums[5][j] - graph->sums[5][i];

    c.i = (double)i;
    c.a = (double)a;
    c.span = (double)(j - i);
    c.along = c.a * (w1 - c.i * w0) - (y1 - c.i * y0);
    c.square = w2 - 2.0 * c.i * w1 + (c.i * c.i) * w0;
    c.fixed = c.a * c.a * w0 - 2.0 * c.a * y0 + y2;
    c.coarse = graph->coarse;
    return c;
}

static inline double
cost_to(const Costs *c, int64_t b)
{
    double slope = ((double)b - c->a) / c->span;
    double cost = c->fixed + 2.0 * slope * c->along + slope * slope * c->square;

    return cost > 0.0 ? (cost + c->coarse) - c->coarse : 0.0;
}

/* Whether a span that begins at place i, in the state of a number, leads to states of the graph: asked of
   each before it is used. They have higher numbers, so that no costs are read and written at once. */
static inline int
is_span(const Graph *graph, const Span *span, int64_t i, Py_ssize_t number)
{
    int64_t least = strides(span->least, graph->stride), first = span->at * graph->width + least;

    return check(span->number > 0 && span->at > i && span->at <= graph->length && span->least >= 0
                     && least + span->number <= graph->width, "spans")
           && check(graph->rank[first] > number
                        && graph->rank[first] + (int64_t)span->number <= graph->count, "ranks");
}

static int
is_state(const Graph *graph, int64_t state)
{
    return check(state >= 0 && state < graph->all && graph->head[state] >= -1
                     && graph->head[state] < graph->spans_count, "states");
}

static int
graph_of(PyObject *tuple, Graph *graph, Buffers *buffers)
{
    Py_ssize_t size, k;
    long long number;

    if (!PyTuple_Check(tuple) || PyTuple_Size(tuple) != 11) {
        PyErr_SetString(PyExc_TypeError, "a graph is a tuple of eleven");
        return 0;
    }
    if (!is_number(PyTuple_GetItem(tuple, 0), 1, MOST_LENGTH, &number)) {
        return 0;
    }
    graph->length = (Py_ssize_t)number;
    if (!is_number(PyTuple_GetItem(tuple, 1), 1, 2 * MOST_COUNT, &number)) {
        return 0;
    }
    graph->width = number;
    if (!is_number(PyTuple_GetItem(tuple, 2), 1, MOST_COUNT, &number)) {
        return 0;
    }
    graph->stride = number;
    graph->all = (graph->length + 1) * graph->width;
    if ((graph->states = take(buffers, PyTuple_GetItem(tuple, 3), 'i', 0, &graph->count)) == NULL
        || (graph->head = take(buffers, PyTuple_GetItem(tuple, 4), 'i', 0, &size)) == NULL
        || !check(size == graph->all, "head")
        || (graph->rank = take(buffers, PyTuple_GetItem(tuple, 5), 'i', 0, &size)) == NULL
        || !check(size == graph->all, "rank")
        || (graph->spans = take(buffers, PyTuple_GetItem(tuple, 6), 'i', 0, &size)) == NULL
        || !check(size % 4 == 0, "spans")) {
        return 0;
    }
    graph->spans_count = size / 4;
    if ((graph->heads = take(buffers, PyTuple_GetItem(tuple, 7), 'i', 0, &size)) == NULL
        || !check(size == graph->length + 2, "heads")
        || (graph->order = take(buffers, PyTuple_GetItem(tuple, 8), 'i', 0, &size)) == NULL
        || !check(size >= graph->spans_count, "order")) {
        return 0;
    }
    graph->coarse = PyFloat_AsDouble(PyTuple_GetItem(tuple, 10));
    if (PyErr_Occurred()) {
        return 0;
    }
    tuple = PyTuple_GetItem(tuple, 9);
    if (!PyTuple_Check(tuple) || PyTuple_Size(tuple) != 6) {
        PyErr_SetString(PyExc_TypeError, "there are six sums");
        return 0;
    }
    for (k = 0; k < 6; k++) {
        graph->sums[k] = take(buffers, PyTuple_GetItem(tuple, k), 'd', 0, &size);
        if (graph->sums[k] == NULL || !check(size == graph->length + 1, "sums")) {
            return 0;
        }
    }
    return 1;
}

/* Bring the costs of one state to all that one piece reaches; 0 if the graph is wrong. */
static int
spread(const Graph *graph, Py_ssize_t from, const int64_t *needed)
{
    const double *restrict here = graph->best + from * graph->layers;
    const Span *span, *end = graph->spans + graph->spans_count;
    Costs costs;
    double *restrict there, cost, sum;
    int64_t i, a, least, most;
    Py_ssize_t first = 0, stop = graph->layers - 1, layer;
    int32_t state = graph->states[from], n;

    if (!is_state(graph, state)) {
        return 0;
    }
    if (graph->head[state] < 0) {
        return 1;
    }
    while (first < stop && here[first] == Py_HUGE_VAL) {
        first++;
    }
    while (stop > first && here[stop - 1] == Py_HUGE_VAL) {
        stop--;
    }
    i = state / graph->width;
    a = state % graph->width * graph->stride;
    for (span = graph->spans + graph->head[state]; span < end && span->source == state; span++) {
        if (!is_span(graph, span, i, from)) {
            return 0;
        }
        /* With more pieces than this the end is out of reach. */
        most = graph->layers - 1 - needed[span->at];
        most = most < stop ? most : stop;
        if (first >= most) {
            continue;
        }
        costs = costs_of(graph, i, a, span->at);
        least = strides(span->least, graph->stride);
        there = graph->best + graph->rank[span->at * graph->width + least] * graph->layers;
        for (n = 0; n < span->number; n++, there += graph->layers) {
            cost = cost_to(&costs, (least + n) * graph->stride);
            for (layer = first; layer < most; layer++) {
                sum = here[layer] + cost;
                there[layer + 1] = sum < there[layer + 1] ? sum : there[layer + 1];
            }
        }
    }
    return 1;
}

PyDoc_STRVAR(closest_doc,
"closest(graph, needed, best, layers)\n\n"
"Write the least cost of each state by number of pieces to `best`, in which states that may begin have\n"
"0 pieces at no cost and all else is infinite (Bellman's recursion).");

static PyObject *
closest(PyObject *self, PyObject *args)
{
    PyObject *given, *bound, *table;
    Buffers buffers = {.count = 0};
    Graph graph;
    const int64_t *needed_pieces;
    Py_ssize_t size, k;
    int is_right = 0;

    (void)self;
    if (!PyArg_ParseTuple(args, "OOOn", &given, &bound, &table, &graph.layers)
        || !graph_of(given, &graph, &buffers)
        || (needed_pieces = take(&buffers, bound, 'q', 0, &size)) == NULL
        || !check(size == graph.length + 1, "needed")
        || (graph.best = take(&buffers, table, 'd', 1, &size)) == NULL
        || !check(graph.layers > 0 && graph.layers <= MOST_LENGTH + 1
                      && size == graph.count * graph.layers, "best")) {
        goto out;
    }
    for (k = 0; k <= graph.length; k++) { /* an int32 at the most: subtracted from the layers it can't overflow */
        if (!check(needed_pieces[k] >= 0 && needed_pieces[k] <= NEVER, "needed")) {
            goto out;
        }
    }
    for (k = 0; k < graph.count; k++) { /* pieces go to later samples only, so states rise */
        if (!spread(&graph, k, needed_pieces)) {
            goto out;
        }
        if (k % BLOCK == 0 && PyErr_CheckSignals() < 0) {
            goto out;
        }
    }
    is_right = 1;
out:
    release(&buffers);
    if (!is_right) {
        return NULL;
    }
    Py_INCREF(Py_None);
    return Py_None;
}

PyDoc_STRVAR(trace_doc,
"trace(graph, best, layers, rank, layer, path)\n\n"
"Write the states that lead to one in a layer to `path`, from layer 0 on; of several as cheap the\n"
"lowest. Returns whether there is such a path.");

static PyObject *
trace(PyObject *self, PyObject *args)
{
    PyObject *given, *table, *out;
    Buffers buffers = {.count = 0};
    Graph graph;
    Py_ssize_t size, at_rank, layer, k;
    int32_t *path, state;
    const Span *span;
    Costs costs;
    double least, value;
    int64_t j, b, source, number;
    int is_right = 0;

    (void)self;
    if (!PyArg_ParseTuple(args, "OOnnnO", &given, &table, &graph.layers, &at_rank, &layer, &out)
        || !graph_of(given, &graph, &buffers)
        || (graph.best = take(&buffers, table, 'd', 0, &size)) == NULL
        || !check(graph.layers > 0 && size == graph.count * graph.layers, "best")
        || !check(at_rank >= 0 && at_rank < graph.count, "rank")
        || !check(layer >= 0 && layer < graph.layers, "layer")
        || (path = take(&buffers, out, 'i', 1, &size)) == NULL
        || !check(size == layer + 1, "path")) {
        goto out;
    }
    path[layer] = state = graph.states[at_rank];
    if (!is_state(&graph, state)) {
        goto out;
    }
    is_right = 1;
    while (layer > 0 && is_right) {
        j = state / graph.width;
        b = state % graph.width * graph.stride;
        least = Py_HUGE_VAL;
        source = -1;
        for (k = graph.heads[j]; k < graph.heads[j + 1]; k++) {
            if (!check(k >= 0 && k < graph.spans_count, "heads")
                || !check(graph.order[k] >= 0 && graph.order[k] < graph.spans_count, "order")) {
                goto out;
            }
            span = &graph.spans[graph.order[k]];
            if (!check(span->source >= 0 && span->source < graph.all, "spans")
                || !check(graph.rank[span->source] >= 0 && graph.rank[span->source] < graph.count,
                          "ranks")
                || !is_span(&graph, span, span->source / graph.width, graph.rank[span->source])) {
                goto out;
            }
            number = b / graph.stride - strides(span->least, graph.stride);
            if (span->at != j || number < 0 || number >= span->number) {
                continue;
            }
            costs = costs_of(&graph, span->source / graph.width,
                             span->source % graph.width * graph.stride, j);
            value = graph.best[graph.rank[span->source] * graph.layers + layer - 1]
                    + cost_to(&costs, b);
            if (value < least || (value == least && span->source < source)) {
                least = value;
                source = span->source;
            }
        }
        is_right = source >= 0;
        if (is_right) {
            path[--layer] = state = (int32_t)source;
        }
    }
    release(&buffers);
    return PyBool_FromLong(is_right);
out:
    release(&buffers);
    return NULL;
}

PyMethodDef closest_methods[] = {
    {"closest", closest, METH_VARARGS, closest_doc},
    {"trace", trace, METH_VARARGS, trace_doc},
    {NULL, NULL, 0, NULL},
};
