"""Models compiled once for each structure, whatever record they are fitted to.

The arrays of a record are inputs of a model's graph (`outcome_models.data_inputs`). Two models whose
graphs are otherwise the same, constant by constant, are one compiled function with other inputs. What is
compared is the graph itself: whatever a model writes into it as a constant, beliefs for one, tells two
structures apart without having to be named here.

Compiled code lives as long as the process. PyTensor keeps its parts on disk too, by source, versions and
processor; that folder can be deleted at any time. It is one of our own (`_parts_on_disk`), because numba
tells functions of one name apart by a number that every process counts from 1. A part from disk and one
compiled here could then have one symbol, of which the linker silently takes either.

Arithmetic is compiled as it is written (`exact_arithmetic`). PyTensor would let the compiler regroup sums,
and code read from that folder is then regrouped otherwise than code compiled afresh: the last digit differs,
some hundred steps later the chains do, and one seed passed the gate in one process and failed it in the next.
"""

from __future__ import annotations

import functools
import gc
import itertools
import secrets
import warnings
from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from typing import Any
from unittest.mock import patch

import numpy as np

# By form. All are kept: numba frees no compiled code. One takes some hundred megabytes, a fit has six.
_kept: dict[tuple[Any, ...], _Structure] = {}


@dataclass(frozen=True)
class _Structure:
    """A compiled function, and the inputs of the model it was compiled from, by name."""

    function: Any
    inputs: dict[str, Any]


@dataclass(frozen=True)
class CompiledModel:
    """A compiled structure with one record's data.

    coords : labels by dimension, of this record.
    """

    structure: _Structure
    data: dict[str, np.ndarray]
    coords: dict[str, Any]

    def ready(self) -> Any:
        """The function as nutpie samples it, reading this record's data; one is sampled at a time."""
        # Starting points are worked out by another function, which reads the inputs themselves.
        for name, variable in self.structure.inputs.items():
            variable.set_value(self.data[name])
        read = self.structure.function.shared_data
        return self.structure.function.with_data(**{n: v for n, v in self.data.items() if n in read})


def compiled(model: Any) -> CompiledModel:
    """A PyMC model compiled on nutpie's numba path, which needs no compiler, or found compiled before."""
    form, inputs = _form(model)
    structure = _kept.get(form)
    if structure is None:
        structure = _kept[form] = _Structure(_compile(model), inputs)
    data = {name: variable.get_value() for name, variable in inputs.items()}
    return CompiledModel(structure, data, {name: list(labels) for name, labels in model.coords.items()})


def forget() -> None:
    """Compile every structure anew from now on."""
    _kept.clear()


def exact_arithmetic() -> AbstractContextManager[Any]:
    """Compile sums and products in the order they are written, whatever is in the folder of compiled code."""
    from pytensor import config

    return config.change_flags(numba__fastmath=False)


@contextmanager
def _no_collection() -> Iterator[None]:
    """Put the collection of garbage off: numba makes millions of objects and drops few of them.

    Measured on parts cost, cold: 16.3 s of the processor instead of 19.8.
    """
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _compile(model: Any) -> Any:
    import nutpie
    from nutpie import compile_pymc

    # nutpie has numba unroll a loop over the inputs, which takes as long to compile as all the rest.
    reading = patch.object(compile_pymc, "make_extraction_fn", _reading_inputs)
    with warnings.catch_warnings(), reading, _parts_on_disk(), exact_arithmetic(), _no_collection():
        # Numba and PyTensor warn of their own internals; nothing the user can act on.
        warnings.simplefilter("ignore")
        return nutpie.compile_pymc_model(model, backend="numba")


def _parts_on_disk() -> AbstractContextManager[Any]:
    """Keep compiled parts in a folder in which no two have one symbol, whichever processes wrote them."""
    from pytensor.link.numba import cache

    _count_from_anywhere()
    folder = cache.NUMBA_CACHE_PATH / "no-two-alike"
    folder.mkdir(parents=True, exist_ok=True)
    return patch.object(cache, "NUMBA_CACHE_PATH", folder)


@functools.cache
def _count_from_anywhere() -> None:
    """Have numba number this process's functions from a random number on."""
    from numba.core.bytecode import FunctionIdentity

    FunctionIdentity._unique_ids = itertools.count(secrets.randbits(62))


def _reading_inputs(function: Any, values: dict[str, np.ndarray], names: Iterable[str], layout: Any) -> Any:
    """`function(x, *inputs)` as one of `x` and nutpie's record of where each input lies, input by input.

    It stands for nutpie's function of the same arguments.
    """
    import numba
    from nutpie.compile_pymc import address_as_void_pointer

    known: dict[str, Any] = {"function": function, "numba": numba, "layout": layout}
    known["pointer"] = address_as_void_pointer
    lines = ["def reading(x, record):"]
    order = list(names)
    if order:
        lines.append("    held = numba.carray(record, (), layout)['shared']")
    for place, name in enumerate(order):
        known[f"dtype_{place}"] = values[name].dtype
        lengths = "".join(f"held['shape'][{name!r}][{axis}], " for axis in range(values[name].ndim))
        where = f"pointer(held['data'][{name!r}][()])"
        lines.append(f"    value_{place} = numba.carray({where}, ({lengths}), dtype_{place})")
    lines.append(f"    return function({', '.join(['x', *(f'value_{i}' for i in range(len(order)))])})")
    exec("\n".join(lines), known)  # numba compiles no function of arguments that are told apart by name
    return numba.njit(inline="always")(known["reading"])


def _form(model: Any) -> tuple[tuple[Any, ...], dict[str, Any]]:
    """What two models must share to be compiled once, and the inputs of this one by name.

    It is the graph of the density and of all that is kept: operations, what each reads, types, and
    constants by their values. Of an input only name and type count.
    """
    from pytensor.compile.sharedvalue import SharedVariable
    from pytensor.graph.basic import Constant
    from pytensor.graph.fg import FunctionGraph

    kept = model.unobserved_value_vars
    graph = FunctionGraph(outputs=[model.logp(), *kept], clone=False)
    place: dict[Any, Any] = {}
    inputs: dict[str, Any] = {}

    def of(variable: Any) -> Any:
        if variable not in place:
            if isinstance(variable, Constant):
                place[variable] = (variable.type, _content(variable.data))
            else:
                place[variable] = (variable.type, variable.name)
                if isinstance(variable, SharedVariable):
                    inputs[str(variable.name)] = variable
        return place[variable]

    nodes = []
    for number, node in enumerate(graph.toposort()):
        nodes.append((node.op, tuple(of(variable) for variable in node.inputs)))
        place.update({output: (number, index) for index, output in enumerate(node.outputs)})
    outputs = tuple((variable.name, of(variable)) for variable in graph.outputs)
    dims = {name: tuple(of_it) for name, of_it in model.named_vars_to_dims.items()}
    lengths = {name: None if labels is None else len(labels) for name, labels in model.coords.items()}
    # nutpie takes the shape of what it keeps as fixed. Where dimensions do not tell it, the data may.
    named = {variable: model.values_to_rvs.get(variable, variable).name for variable in kept}
    open_ended = [v for v in kept if named[v] not in dims and None in v.type.shape]
    shapes = [(name, v.get_value().shape) for name, v in inputs.items()] if open_ended else ()
    return (tuple(nodes), outputs, tuple(dims.items()), tuple(lengths.items()), tuple(shapes)), inputs


def _content(value: Any) -> Any:
    if isinstance(value, np.ndarray | np.generic):
        return np.shape(value), np.asarray(value).tobytes()
    return repr(value)
