/* The inner loops of the search for rows, compiled: the module that Python sees. See _paths.h. */
#include "_paths.h"

/* Raised with every change of a function below; which.py names the one that it knows. */
#define KERNEL_VERSION 7

static PyMethodDef *const methods[] = {
    bound_methods,  circle_methods, closest_methods, cones_methods,
    fewest_methods, labels_methods, pieces_methods,
};

static int
module_exec(PyObject *module)
{
    size_t k;

    for (k = 0; k < sizeof methods / sizeof methods[0]; k++) {
        if (PyModule_AddFunctions(module, methods[k]) < 0) {
            return -1;
        }
    }
    return PyModule_AddIntConstant(module, "VERSION", KERNEL_VERSION) < 0
                   || PyModule_AddIntConstant(module, "MOST_SPANS", (long)MOST_SPANS) < 0
                   || PyModule_AddIntConstant(module, "MOST_CHANNELS", MOST_CHANNELS) < 0
               ? -1
               : 0;
}

static PyModuleDef_Slot slots[] = {
    {Py_mod_exec, module_exec},
    {0, NULL},
};

static struct PyModuleDef definition = {
    PyModuleDef_HEAD_INIT,
    .m_name = "_paths",
    .m_doc = "The inner loops of the search for rows, compiled.",
    .m_size = 0,
    .m_slots = slots,
};

PyMODINIT_FUNC
PyInit__paths(void)
{
    return PyModuleDef_Init(&definition);
}
