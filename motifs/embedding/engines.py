"""Ways to run a network, and the choice of the fastest by measuring.

On the two cores this was written on, views a second at 224 px through EfficientNet-Lite0: as built 55,
channels last 79, normalisation folded as well 93-114, ONNX Runtime on the folded graph 231; vectors equal
within 6e-7 (``python -m tests.embedding.measure_encode`` prints the figures of another machine). The
graph is written in memory in half a second, so a short job is not worth it.
"""

from __future__ import annotations

import importlib.util
import io
import time
import warnings
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn.utils.fusion import fuse_conv_bn_eval

from motifs.embedding.weights import load_network

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from motifs.embedding.network import SherdNetwork
    from motifs.embedding.specs import EncoderSpec

    Bytes = NDArray[np.uint8]
    Engine = Callable[[Bytes, Bytes], NDArray[np.float32]]

LONG_JOB_VIEWS = 96
"""From this many views on, writing the graph and timing both engines pays."""
TRIAL_VIEWS = 8
ONNX_OPSET = 17


def engine_for(spec: EncoderSpec, views: int) -> Engine:
    """Give the engine that suits a job of so many views.

    Returns
    -------
    A function of images (B, S, S, 3) uint8 sRGB and masks (B, S, S) uint8 (255 inside the sherd) that
    gives (B, dim) float32 of unit length.

    Raises
    ------
    ModelError: see load_network.
    """
    is_on_cpu = not torch.cuda.is_available()
    if is_on_cpu and views >= LONG_JOB_VIEWS and has_onnx():
        return _quickest(spec, torch.get_num_threads())
    return _torch_engine_of(spec)


def has_onnx() -> bool:
    """Tell whether the packages that write and run a graph are installed."""
    return all(importlib.util.find_spec(name) is not None for name in ("onnx", "onnxruntime"))


@lru_cache(maxsize=4)
def _torch_engine_of(spec: EncoderSpec) -> Engine:
    return torch_engine(load_network(spec))


@lru_cache(maxsize=4)
def _quickest(spec: EncoderSpec, threads: int) -> Engine:
    """Time both engines once on this machine and keep the faster; one choice a spec and thread count."""
    engines = (onnx_engine(load_network(spec), spec.input_px, threads), _torch_engine_of(spec))
    trial = np.full((TRIAL_VIEWS, spec.input_px, spec.input_px, 3), 128, np.uint8)
    return min(engines, key=lambda engine: _seconds(engine, trial))


def _seconds(engine: Engine, images: Bytes) -> float:
    """Time the second of two runs; the first one sets memory up."""
    masks = np.full(images.shape[:3], 255, np.uint8)
    engine(images, masks)
    start = time.perf_counter()
    engine(images, masks)
    return time.perf_counter() - start


class ByteInput(nn.Module):
    """A network that takes pictures as they lie in memory: channels last, 8 bits."""

    def __init__(self, network: SherdNetwork) -> None:
        super().__init__()
        self.network = network

    def forward(self, images: Tensor, masks: Tensor) -> Tensor:
        """(B, S, S, 3) uint8 and (B, S, S) uint8 -> (B, dim) float32."""
        x = images.permute(0, 3, 1, 2).float() / 255.0
        vectors: Tensor = self.network(x, masks[:, None].float() / 255.0)
        return vectors


def torch_engine(network: SherdNetwork) -> Engine:
    """Run a network in eager mode, normalisation folded into its convolutions, channels last in memory.

    The network is changed in place. A graphics card is used when there is one.
    """
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    fold_normalisation(network)
    network.to(device).to(memory_format=torch.channels_last)
    module = ByteInput(network)

    def run(images: Bytes, masks: Bytes) -> NDArray[np.float32]:
        with torch.inference_mode():
            vectors = module(torch.from_numpy(images).to(device), torch.from_numpy(masks).to(device))
            found: NDArray[np.float32] = vectors.cpu().numpy()
        return found

    return run


def onnx_engine(network: SherdNetwork, input_px: int, threads: int) -> Engine:
    """Run a network through ONNX Runtime on the CPU; the network is changed in place."""
    import onnxruntime  # noqa: PLC0415  (only when this engine is tried)

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.log_severity_level = 3
    session = onnxruntime.InferenceSession(graph_of(network, input_px), options, providers=["CPUExecutionProvider"])

    def run(images: Bytes, masks: Bytes) -> NDArray[np.float32]:
        found: NDArray[np.float32] = session.run(None, {"images": images, "masks": masks})[0]
        return found

    return run


def graph_of(network: SherdNetwork, input_px: int) -> bytes:
    """Write a network as an ONNX graph of any batch size: inputs ``images`` and ``masks``, output ``vectors``."""
    fold_normalisation(network)
    module = ByteInput(network.requires_grad_(requires_grad=False)).eval()
    images = torch.full((2, input_px, input_px, 3), 128, dtype=torch.uint8)
    masks = torch.full((2, input_px, input_px), 255, dtype=torch.uint8)
    names = ["images", "masks", "vectors"]
    written = io.BytesIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it announces its successor, which needs one more package
        torch.onnx.export(
            module, (images, masks), written,  # type: ignore[arg-type]  # a buffer is taken too
            input_names=names[:2], output_names=names[2:],
            dynamic_axes={name: {0: "batch"} for name in names}, opset_version=ONNX_OPSET, dynamo=False,
        )  # fmt: skip
    return written.getvalue()


def fold_normalisation(network: nn.Module) -> None:
    """Fold every batch normalisation that follows its convolution into it, in place; sets evaluation mode.

    Same outputs up to rounding, with about half the passes over memory.
    """
    network.eval()
    for module in network.modules():
        for (name, convolution), (follower, normalisation) in pairwise(list(module.named_children())):
            if isinstance(convolution, nn.Conv2d) and isinstance(normalisation, nn.BatchNorm2d):
                setattr(module, name, fuse_conv_bn_eval(convolution, normalisation))
                setattr(module, follower, nn.Identity())
