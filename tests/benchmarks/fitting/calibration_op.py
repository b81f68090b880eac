"""The success model's likelihood with its jobs as inputs, so that one compilation serves every record.

The product's operation stores the jobs; this one passes them to the same kernel as inputs
of the graph.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch import numba_funcify

from triage.outcome_models import likelihood_op
from triage.outcome_models.likelihood_op import IntegratedLogLikelihood


class OpenedLogLikelihood(Op):
    """`IntegratedLogLikelihood` of `(logits, sigma, *arrays)`; `numbers` are what follows the arrays."""

    __props__ = ("numbers",)

    def __init__(self, numbers: tuple[float, ...]):
        self.numbers = numbers

    def make_node(self, *inputs: Any) -> Apply:
        """Declare inputs and outputs."""
        return Apply(self, [pt.as_tensor(v) for v in inputs], [pt.dscalar(), pt.dvector(), pt.dscalar()])

    def perform(self, node: Apply, inputs: list, output_storage: list) -> None:
        """Evaluate outside Numba mode."""
        logits, sigma, *arrays = inputs
        found = likelihood_op._kernel(logits, float(sigma), *arrays, *self.numbers)
        for storage, value in zip(output_storage, found, strict=True):
            storage[0] = np.asarray(value)

    def connection_pattern(self, node: Apply) -> list[list[bool]]:
        """Only logits and sigma have a gradient."""
        return [[place < 2] * 3 for place in range(len(node.inputs))]

    def pullback(self, inputs: list, outputs: list, cotangents: list) -> list:
        """Gradient, as the product's operation has it."""
        none = [disconnected_type() for _ in inputs[2:]]
        return [cotangents[0] * outputs[1], cotangents[0] * outputs[2], *none]

    def L_op(self, inputs: list, outputs: list, output_grads: list) -> list:
        """`pullback` under the name that older PyTensor asks for."""
        return self.pullback(inputs, outputs, output_grads)

    def infer_shape(self, *given: Any) -> list:
        """Shapes of the outputs, from those of the inputs."""
        return [(), given[-1][0], ()]


@numba_funcify.register(OpenedLogLikelihood)
def _numba_form(op: OpenedLogLikelihood, node: Any = None, **kwargs: Any) -> Any:
    numbers, kernel = op.numbers, likelihood_op._kernel

    @numba.njit
    def opened(logits, sigma, *arrays):
        value, by_logit, by_sigma = kernel(logits, sigma.item(), *(arrays + numbers))
        return np.asarray(value), by_logit, np.asarray(by_sigma)

    return opened


def opened(node: Apply, inputs: list[Any]) -> Apply | None:
    """Return the same node with the jobs as inputs; None for any other kind of node."""
    if not isinstance(node.op, IntegratedLogLikelihood):
        return None
    arrays = [value for value in node.op.data if isinstance(value, np.ndarray)]
    numbers = tuple(node.op.data[len(arrays) :])
    return OpenedLogLikelihood(numbers).make_node(*inputs, *(pt.constant(value) for value in arrays))
