"""Ways to run a network, and the choice of the fastest by measuring.

On the two cores this was written on, views a second at 224 px through EfficientNet-Lite0: as built 55,
channels last 79, normalisation folded as well 93-114, ONNX Runtime on the folded graph 231; vectors equal
within 6e-7 (``python -m tests.embedding.measure_encode`` prints the figures of another machine). The
graph is written in memory in half a second, so a short job is not worth it.
"""

from __future__ import annotations

import importlib.util
import io
import logging
import os
import shutil
import sys
import sysconfig
import time
import warnings
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn.utils.fusion import fuse_conv_bn_eval

from motifs.embedding.choices import choice_key, remember_choice, remembered_choice
from motifs.embedding.weights import load_network

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from motifs.embedding.network import SherdNetwork
    from motifs.embedding.specs import EncoderSpec

    Bytes = NDArray[np.uint8]
    Engine = Callable[[Bytes, Bytes], NDArray[np.float32]]

log = logging.getLogger("motifs.engines")

LONG_JOB_VIEWS = 96
"""From this many views on, writing the graph and timing both engines pays."""
COMPILED_JOB_VIEWS = 4000
"""Compiling takes a minute or two. From this many views on it is timed too where ONNX Runtime is absent..."""
COMPILED_BESIDE_VIEWS = 20_000
"""...and from this many on beside it: it was never the fastest there, on the machines this was tried on."""
SAME_WITHIN = 1e-3
"""An engine whose vectors differ by more from eager torch's is not taken."""
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
    if is_on_cpu and views >= LONG_JOB_VIEWS:
        least = COMPILED_BESIDE_VIEWS if has_onnx() else COMPILED_JOB_VIEWS
        may_compile = views >= least and why_not_compiled() is None
        if may_compile or has_onnx():
            return _quickest(spec, torch.get_num_threads(), may_compile=may_compile)
    return _torch_engine_of(spec)


def has_onnx() -> bool:
    """Tell whether the packages that write and run a graph are installed."""
    return all(importlib.util.find_spec(name) is not None for name in ("onnx", "onnxruntime"))


def why_not_compiled() -> str | None:
    """Tell why torch's compiler cannot be used on this machine; None where it can."""
    if sys.platform == "win32":
        return "torch's compiler is not tried on Windows"
    compiler = os.environ.get("CXX", "g++")
    if shutil.which(compiler) is None:
        return f"torch's compiler needs a C++ compiler, and {compiler} is not installed"
    header = Path(sysconfig.get_path("include")) / "Python.h"
    if not header.is_file():
        return "torch's compiler needs Python's header files (on Debian: python3-dev), and they are not installed"
    return None


@lru_cache(maxsize=4)
def _torch_engine_of(spec: EncoderSpec) -> Engine:
    return torch_engine(load_network(spec))


@lru_cache(maxsize=4)
def _quickest(spec: EncoderSpec, threads: int, *, may_compile: bool = False) -> Engine:
    """The engine that was or is now measured to be the fastest here; one choice a spec and thread count."""
    makers = _makers(spec, threads, may_compile=may_compile)
    key = choice_key(spec.fingerprint + (" compiled too" if may_compile else ""), threads)
    name = remembered_choice(key)
    if name in makers:
        return makers[name]()
    name, engine = fastest_engine({name: _made_late(make) for name, make in makers.items()}, spec.input_px)
    remember_choice(key, name)
    return engine


def _makers(spec: EncoderSpec, threads: int, *, may_compile: bool) -> dict[str, Callable[[], Engine]]:
    """Ways to run a spec on this machine; torch comes first, whose vectors the others must give."""
    makers: dict[str, Callable[[], Engine]] = {"torch": lambda: _torch_engine_of(spec)}
    if has_onnx():
        makers["onnxruntime"] = lambda: onnx_engine(load_network(spec), spec.input_px, threads)
    if may_compile:
        makers["compiled"] = lambda: compiled_engine(load_network(spec))
    return makers


def fastest_engine(engines: Mapping[str, Engine], input_px: int) -> tuple[str, Engine]:
    """Time engines on the same views.

    Parameters
    ----------
    engines: by name; the first one's vectors are taken for right.
    input_px: side of a view.

    Returns
    -------
    Name and engine of the fastest among those whose vectors are the first one's within SAME_WITHIN.
    """
    rng = np.random.default_rng(0)
    images = rng.integers(0, 256, (TRIAL_VIEWS, input_px, input_px, 3), dtype=np.uint8)
    masks = np.full(images.shape[:3], 255, np.uint8)
    expected = next(iter(engines.values()))(images, masks)
    good = {
        name: engine
        for name, engine in engines.items()
        if (found := _tried(name, engine, images, masks)) is not None
        and float(np.abs(found - expected).max()) <= SAME_WITHIN
    }
    good = good or dict([next(iter(engines.items()))])
    return min(good.items(), key=lambda named: _seconds(named[1], images, masks))


def _tried(name: str, engine: Engine, images: Bytes, masks: Bytes) -> NDArray[np.float32] | None:
    """Vectors; None, with a word, of an engine that cannot run on this machine."""
    try:
        return engine(images, masks)
    except (RuntimeError, ImportError, OSError) as problem:  # torch's compiler and ONNX Runtime raise these
        reason = (str(problem).splitlines() or ["no reason given"])[0]
        log.warning("engine %s cannot be used here and is left out: %s", name, reason)
        return None


def _made_late(make: Callable[[], Engine]) -> Engine:
    """An engine that is made when it is first asked, so that one that cannot be made fails where it is tried."""
    made: list[Engine] = []

    def run(images: Bytes, masks: Bytes) -> NDArray[np.float32]:
        if not made:
            made.append(make())
        return made[0](images, masks)

    return run


def _seconds(engine: Engine, images: Bytes, masks: Bytes) -> float:
    """Time the faster of two runs; memory was set up by an earlier one."""
    taken = []
    for _ in range(2):
        start = time.perf_counter()
        engine(images, masks)
        taken.append(time.perf_counter() - start)
    return min(taken)


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


def compiled_engine(network: SherdNetwork) -> Engine:
    """Run a network through torch's compiler on the CPU; needs a C++ compiler, and about a minute at first."""
    fold_normalisation(network)
    network.to(memory_format=torch.channels_last)
    module = torch.compile(ByteInput(network), dynamic=True)

    def run(images: Bytes, masks: Bytes) -> NDArray[np.float32]:
        with torch.inference_mode():
            found: NDArray[np.float32] = module(torch.from_numpy(images), torch.from_numpy(masks)).numpy()
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
