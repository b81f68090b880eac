"""The integrated likelihood as a PyTensor operation with its own gradient.

One pass over the jobs gives the total log likelihood and its derivatives.
With `a = exp(logit)` and `e = exp(sigma z)`, an attempt's chance at a node is
`a e / (1 + a e)`: no exponential or logarithm is needed per attempt and node.
Written as ordinary PyTensor expressions the same sum took some ten times as
long to compile and to evaluate.

Imported only while a model is being built.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np
import pytensor.tensor as pt
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch import numba_funcify

from triage.design_matrix import AttemptPatterns
from triage.outcome_models.integrated_likelihood import standard_nodes

# An intermediate product is rescaled before it can underflow.
_SMALL = 1e-200


@numba.njit(fastmath={"reassoc", "contract"}, error_model="numpy")
def _kernel(logits, sigma, cell, fixed, start, count, first_node, last_node, z, weight):
    """Total log likelihood, its gradient by logit, shape (cell,), and by sigma."""
    own, at_node = np.exp(logits), np.exp(sigma * z)
    most = max(1, np.max(np.diff(start)))
    score = np.empty((most, z.size))  # derivative of each attempt's log chance by its logit
    product = np.empty(z.size)
    value, by_sigma = 0.0, 0.0
    by_logit = np.zeros(logits.size)
    for pattern in range(count.size):
        begin, end = start[pattern], start[pattern + 1]
        low, high = first_node[pattern], last_node[pattern]
        scale = 0.0
        for n in range(low, high):
            product[n] = weight[n]
        for item in range(begin, end):
            row = item - begin
            a = own[cell[item]]
            if fixed[item]:
                for n in range(low, high):
                    failing = 1.0 / (1.0 + a * at_node[n])
                    product[n] *= 1.0 - failing
                    score[row, n] = failing
            else:
                for n in range(low, high):
                    failing = 1.0 / (1.0 + a * at_node[n])
                    product[n] *= failing
                    score[row, n] = failing - 1.0
            if row % 16 == 15:
                largest = np.max(product[low:high])
                if 0.0 < largest < _SMALL:
                    scale += np.log(largest)
                    for n in range(low, high):
                        product[n] /= largest
        total = 0.0
        for n in range(low, high):
            total += product[n]
        value += count[pattern] * (np.log(total) + scale)
        for n in range(low, high):
            product[n] *= count[pattern] / total
        for item in range(begin, end):
            row = item - begin
            slope = 0.0
            for n in range(low, high):
                part = product[n] * score[row, n]
                slope += part
                by_sigma += part * z[n]
            by_logit[cell[item]] += slope
    return value, by_logit, by_sigma


class IntegratedLogLikelihood(Op):
    """`(logits, sigma) -> (log likelihood, its gradient by logits, by sigma)`.

    Parameters
    ----------
    patterns : the jobs.
    nodes : ndarray of int, shape (pattern,), Gauss-Hermite nodes for each.
    """

    def __init__(self, patterns: AttemptPatterns, nodes: np.ndarray):
        counts = [int(count) for count in np.unique(nodes)]
        sets = [standard_nodes(count) for count in counts]
        ends = dict(zip(counts, np.cumsum([len(z) for z, _ in sets]), strict=True))
        last = np.array([ends[int(count)] for count in nodes], dtype=np.int64)
        self.data = (
            patterns.cell.astype(np.int64),
            patterns.fixed.astype(np.bool_),
            patterns.start.astype(np.int64),
            patterns.count.astype(np.float64),
            last - np.array([len(standard_nodes(int(count))[0]) for count in nodes], dtype=np.int64),
            last,
            np.concatenate([z for z, _ in sets]),
            np.exp(np.concatenate([log_weight for _, log_weight in sets])),
        )

    def make_node(self, logits: Any, sigma: Any) -> Apply:
        """Declare inputs and outputs."""
        inputs = [pt.as_tensor(logits).astype("float64"), pt.as_tensor(sigma).astype("float64")]
        return Apply(self, inputs, [pt.dscalar(), pt.dvector(), pt.dscalar()])

    def perform(self, node: Apply, inputs: list, output_storage: list) -> None:
        """Evaluate outside Numba mode."""
        value, by_logit, by_sigma = _kernel(inputs[0], float(inputs[1]), *self.data)
        output_storage[0][0] = np.asarray(value)
        output_storage[1][0] = by_logit
        output_storage[2][0] = np.asarray(by_sigma)

    def pullback(self, inputs: list, outputs: list, cotangents: list) -> list:
        """Gradient of the log likelihood, which the same pass has already given."""
        return [cotangents[0] * outputs[1], cotangents[0] * outputs[2]]

    def L_op(self, inputs: list, outputs: list, output_grads: list) -> list:
        """`pullback` under the name that older PyTensor asks for."""
        return self.pullback(inputs, outputs, output_grads)

    def infer_shape(self, *given: Any) -> list:
        """Shapes of the outputs, from those of the inputs.

        The older generation passes (graph, node, shapes), the newer (node, shapes).
        """
        shapes = given[-1]
        return [(), shapes[0], ()]


@numba_funcify.register(IntegratedLogLikelihood)
def _numba_form(op: IntegratedLogLikelihood, node: Any = None, **kwargs: Any) -> Any:
    data = op.data

    @numba.njit
    def integrated(logits, sigma):
        value, by_logit, by_sigma = _kernel(logits, sigma.item(), *data)
        return np.asarray(value), by_logit, np.asarray(by_sigma)

    return integrated


def log_likelihood(logits: Any, sigma: Any, patterns: AttemptPatterns, nodes: np.ndarray) -> Any:
    """Total log likelihood of all jobs, a PyTensor scalar.

    Parameters
    ----------
    logits : TensorVariable, shape (cell,).
    sigma : TensorVariable, scalar.
    patterns, nodes : as for `IntegratedLogLikelihood`.
    """
    return IntegratedLogLikelihood(patterns, nodes)(logits, sigma)[0]
