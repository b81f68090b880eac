"""The integrated likelihood as a PyTensor operation with its own gradient.

One pass over the jobs gives the total log likelihood and its derivatives.
Logits are those of fresh chances. Jobs of one attempt are binomial counts of
them; for the other jobs each logit is first turned into the one in a job of
average effect (`fresh_kernel`).
With `a = exp` of that logit and `e = exp(sigma z)`, an attempt fails with chance
`1 / (1 + a e)`: no exponential or logarithm is needed per attempt and node.
Nodes come in pairs `z, -z`, and one division serves both:
`1 / (1 + a e)` and `1 / (1 + a / e)` share `1 / ((1 + a e) (e + a))`.
Patterns of one size and node count lie side by side in blocks, so that the
innermost loops run over patterns and the compiler makes vector code of them:
a third of the time of going through them one by one. Written as ordinary
PyTensor expressions the same sum took some ten times as long to compile, and
thirty times as long to evaluate.

Imported only while a model is being built.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

import numba
import numpy as np
import pytensor
import pytensor.tensor as pt
from pytensor.gradient import disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch.basic import register_funcify_and_cache_key

from triage.design_matrix import AttemptPatterns
from triage.outcome_models import fresh_kernel
from triage.outcome_models.data_inputs import of_rows
from triage.outcome_models.fresh_kernel import inside_logits, single_attempts
from triage.outcome_models.integrated_likelihood import standard_nodes

# Patterns in a block. Fewer leave the vector units idle, more do not fit the nearest cache.
_LANES = 64
# A product over more attempts could underflow: it is then taken in logarithms.
_MOST_IN_A_PRODUCT = 16


@numba.njit(fastmath={"reassoc", "contract"}, error_model="numpy")
def _kernel(
    fresh, sigma, won, lost, several, cell, fixed, start, count, width, first_node, last_node, z, weight
):
    """Total log likelihood, its gradient by fresh logit, shape (cell,), and by sigma.

    won, lost : shape (cell,), outcomes of the jobs of one attempt.
    several : shape (own,), the cells that occur in jobs of several attempts.
    cell, fixed : shape (item, lane), the items of a block's patterns side by side; cells by their
        place in `several`.
    start : shape (block + 1,). count : shape (block, lane). width : shape (block,), lanes in use.
    z, weight : nodes from 0 up; each stands for itself and its mirror image.
    """
    value, by_fresh = single_attempts(fresh, won, lost)
    logits, steepness, drift = inside_logits(fresh[several], sigma)
    own, at_node = np.exp(logits), np.exp(sigma * z)
    most = 1
    for block in range(count.shape[0]):
        most = max(most, start[block + 1] - start[block])
    # Each array by itself: views of one are slower, because the compiler must think they overlap.
    odds, won = np.empty((most, _LANES)), np.empty((most, _LANES))
    plus, minus = np.empty((most, _LANES)), np.empty((most, _LANES))  # derivatives at a node and its mirror
    slope = np.empty((most, _LANES))
    up, down, by_up, by_down = np.empty(_LANES), np.empty(_LANES), np.empty(_LANES), np.empty(_LANES)
    total, by_node, top = np.empty(_LANES), np.empty(_LANES), np.empty(_LANES)
    by_sigma = 0.0
    by_logit = np.zeros(logits.size)
    for block in range(count.shape[0]):
        begin, size = start[block], start[block + 1] - start[block]
        lanes = width[block]
        for row in range(size):
            for lane in range(lanes):
                odds[row, lane] = own[cell[begin + row, lane]]
                won[row, lane] = fixed[begin + row, lane]
        slope[:size] = 0.0
        total[:], by_node[:] = 0.0, 0.0
        low, high = first_node[block], last_node[block]
        _largest(odds, won, size, lanes, at_node, low, high, top)
        for n in range(low, high):
            e = at_node[n]
            up[:], down[:] = weight[n], weight[n]
            by_up[:], by_down[:] = 0.0, 0.0
            for row in range(size):
                a, w, there, back = odds[row], won[row], plus[row], minus[row]
                for lane in range(lanes):
                    lost = 1.0 - w[lane]
                    here, mirrored = 1.0 + a[lane] * e, e + a[lane]
                    shared = 1.0 / (here * mirrored)
                    failing, failing_back = mirrored * shared, e * here * shared
                    up[lane] *= failing * (lost + w[lane] * a[lane] * e)
                    down[lane] *= here * shared * (lost * e + w[lane] * a[lane])
                    there[lane], back[lane] = failing - lost, failing_back - lost
                    by_up[lane] += failing - lost
                    by_down[lane] += failing_back - lost
            if size > _MOST_IN_A_PRODUCT:
                _in_logarithms(odds, won, size, lanes, e, weight[n], top, up, down)
            for lane in range(lanes):
                total[lane] += up[lane] + down[lane]
                by_node[lane] += z[n] * (up[lane] * by_up[lane] - down[lane] * by_down[lane])
            for row in range(size):
                rise, there, back = slope[row], plus[row], minus[row]
                for lane in range(lanes):
                    rise[lane] += up[lane] * there[lane] + down[lane] * back[lane]
        for lane in range(lanes):
            value += count[block, lane] * (np.log(total[lane]) + top[lane])
            total[lane] = count[block, lane] / total[lane]
            by_sigma += total[lane] * by_node[lane]
        for row in range(size):
            for lane in range(lanes):
                by_logit[cell[begin + row, lane]] += total[lane] * slope[row, lane]
    for place in range(several.size):
        by_fresh[several[place]] += by_logit[place] * steepness[place]
        by_sigma += by_logit[place] * drift[place]
    return value, by_fresh, by_sigma


@numba.njit(error_model="numpy")
def _largest(odds, won, size, lanes, at_node, low, high, top):
    """Largest log chance of each lane's outcomes at any node; 0 where products will do."""
    top[:] = 0.0
    if size > _MOST_IN_A_PRODUCT:
        top[:] = -np.inf
        for lane in range(lanes):
            for n in range(low, high):
                for e in (at_node[n], 1.0 / at_node[n]):
                    top[lane] = max(top[lane], _log_chance(odds, won, size, e, lane))


@numba.njit(error_model="numpy")
def _in_logarithms(odds, won, size, lanes, e, weight, top, up, down):
    """Weight times chance of each lane's outcomes over its largest, at a node and its mirror image."""
    for lane in range(lanes):
        up[lane] = weight * np.exp(_log_chance(odds, won, size, e, lane) - top[lane])
        down[lane] = weight * np.exp(_log_chance(odds, won, size, 1.0 / e, lane) - top[lane])


@numba.njit(error_model="numpy")
def _log_chance(odds, won, size, e, lane):
    found, part = 0.0, 1.0
    for row in range(size):
        reach = odds[row, lane] * e
        part *= (1.0 - won[row, lane] + won[row, lane] * reach) / (1.0 + reach)
        if row % 8 == 7:  # a logarithm for eight factors, before their product can underflow
            found += np.log(part)
            part = 1.0
    return found + np.log(part)


def _mirrored(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Nodes from 0 up and their weights; the middle one, its own mirror image, has half."""
    z, log_weight = standard_nodes(count)
    half = len(z) // 2
    weight = np.exp(log_weight[half:])
    weight[0] /= 1 + len(z) % 2
    return z[half:], weight


def _blocks(patterns: AttemptPatterns, nodes: np.ndarray) -> tuple[np.ndarray, ...]:
    """Count jobs of one attempt, lay the others out in blocks; what `_kernel` takes after `sigma`."""
    won, lost = patterns.single_outcomes
    several = patterns.size > 1
    shared = np.unique(patterns.cell[np.repeat(several, patterns.size)])
    place_of = np.zeros(len(won), dtype=np.int64)
    place_of[shared] = np.arange(len(shared))
    counts = np.unique(nodes)
    sets = [_mirrored(int(count)) for count in counts]
    ends = np.cumsum([len(z) for z, _ in sets])
    cell, fixed = [np.zeros((0, _LANES), np.int64)], [np.zeros((0, _LANES))]
    weight: list[np.ndarray] = []
    rows, width, which = [], [], []
    for place, count in enumerate(counts):
        for size in np.unique(patterns.size[several & (nodes == count)]):
            alike = np.flatnonzero((nodes == count) & (patterns.size == size))
            for begin in range(0, len(alike), _LANES):
                held = alike[begin : begin + _LANES]
                lanes = np.resize(held, _LANES)
                items = patterns.start[lanes] + np.arange(size)[:, None]  # (row, lane)
                cell.append(place_of[patterns.cell[items]])
                fixed.append(patterns.fixed[items])
                weight.append(patterns.count[lanes])
                rows.append(size)
                width.append(len(held))
                which.append(place)
    return (
        won,
        lost,
        shared.astype(np.int64),
        np.concatenate(cell).astype(np.int64),
        np.concatenate(fixed).astype(np.float64),
        np.cumsum([0, *rows]).astype(np.int64),
        np.array(weight, dtype=np.float64).reshape(-1, _LANES),
        np.array(width, dtype=np.int64),
        np.array([ends[place] - len(sets[place][0]) for place in which], dtype=np.int64),
        np.array([ends[place] for place in which], dtype=np.int64),
        np.concatenate([z for z, _ in sets]),
        np.concatenate([weight for _, weight in sets]),
    )


class IntegratedLogLikelihood(Op):
    """`(logits, sigma, *blocks) -> (log likelihood, its gradient by logits, by sigma)`.

    `blocks` are what `_blocks` makes of the jobs: inputs like any other, without a gradient.
    """

    __props__ = ()

    def make_node(self, *inputs: Any) -> Apply:
        """Declare inputs (logits, sigma, blocks) and outputs."""
        floats = [pt.as_tensor(given).astype("float64") for given in inputs[:2]]
        blocks = [pt.as_tensor(given) for given in inputs[2:]]
        return Apply(self, [*floats, *blocks], [pt.dscalar(), pt.dvector(), pt.dscalar()])

    def perform(self, node: Apply, inputs: Sequence[Any], output_storage: list) -> None:
        """Evaluate outside Numba mode."""
        value, by_logit, by_sigma = _kernel(inputs[0], float(inputs[1]), *inputs[2:])
        output_storage[0][0] = np.asarray(value)
        output_storage[1][0] = by_logit
        output_storage[2][0] = np.asarray(by_sigma)

    def connection_pattern(self, node: Apply) -> list[list[bool]]:
        """Only logits and sigma have a gradient."""
        return [[place < 2] * 3 for place in range(len(node.inputs))]

    def pullback(self, inputs: Sequence[Any], outputs: Sequence[Any], cotangents: Sequence[Any]) -> list:
        """Gradient of the log likelihood, which the same pass has already given."""
        none = [disconnected_type() for _ in inputs[2:]]
        return [cotangents[0] * outputs[1], cotangents[0] * outputs[2], *none]

    def L_op(self, inputs: Sequence[Any], outputs: Sequence[Any], output_grads: Sequence[Any]) -> list:
        """`pullback` under the name that older PyTensor asks for."""
        return self.pullback(inputs, outputs, output_grads)

    def infer_shape(self, *given: Any) -> list:
        """Shapes of the outputs, from those of the inputs.

        The older generation passes (graph, node, shapes), the newer (node, shapes).
        """
        shapes = given[-1]
        return [(), shapes[0], ()]


def _source() -> str:
    """Digest of what the compiled form follows from; the processor is numba's own care."""
    versions = (numba.__version__, np.__version__, pytensor.__version__)
    files = (__file__, str(fresh_kernel.__file__))
    return sha256(b"".join(Path(f).read_bytes() for f in files) + repr(versions).encode()).hexdigest()


@register_funcify_and_cache_key(IntegratedLogLikelihood)
def _numba_form(op: IntegratedLogLikelihood, node: Any = None, **kwargs: Any) -> tuple[Any, str]:
    """The compiled form, and the key under which PyTensor keeps it for other processes."""

    @numba.njit
    def integrated(logits, sigma, *blocks):
        value, by_logit, by_sigma = _kernel(logits, sigma.item(), *blocks)
        return np.asarray(value), by_logit, np.asarray(by_sigma)

    return integrated, _source()


def log_likelihood(logits: Any, sigma: Any, patterns: AttemptPatterns, nodes: np.ndarray) -> Any:
    """Total log likelihood of all jobs, a PyTensor scalar, in the PyMC model being built.

    Parameters
    ----------
    logits : TensorVariable, shape (cell,), logits of fresh chances.
    sigma : TensorVariable, scalar.
    patterns : the jobs.
    nodes : ndarray of int, shape (pattern,), Gauss-Hermite nodes for each.
    """
    blocks = [of_rows(f"blocks_{place}", part) for place, part in enumerate(_blocks(patterns, nodes))]
    made: Any = IntegratedLogLikelihood()(logits, sigma, *blocks)
    return made[0]
