"""Print how fast sherds are encoded, beside the bare network: ``python -m tests.embedding.measure_encode``.

Rates are views a second, best of several runs, all in one process on the same cores (OMP_NUM_THREADS=1 for one). The bare network
gets a ready batch and no mask is pooled by it; encode_crops starts from crops, and resamples, turns,
fills, stacks and averages as well.
"""

from __future__ import annotations

import argparse
import time
from typing import TYPE_CHECKING

import numpy as np
import torch

from motifs.embedding import EFFICIENTNET_LITE0, encode_crops, encoder_named, views_of
from motifs.embedding.encode import BATCH
from motifs.embedding.engines import (
    compiled_engine,
    fold_normalisation,
    has_onnx,
    onnx_engine,
    torch_engine,
    why_not_compiled,
)
from motifs.embedding.weights import load_network
from tests.embedding.sherds import sherd, textures

if TYPE_CHECKING:
    from collections.abc import Callable


def best_rate(run: Callable[[], object], views: int, repeats: int) -> float:
    """Run once to warm up, then take the best of several; views a second."""
    # On one thread the processor's own time is taken, so that other programs on the machine do not count.
    clock = time.process_time if torch.get_num_threads() == 1 else time.perf_counter
    run()
    seconds = []
    for _ in range(repeats):
        start = clock()
        run()
        seconds.append(clock() - start)
    return views / min(seconds)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--encoder", default=EFFICIENTNET_LITE0.tag)
    parser.add_argument("--sherds", type=int, default=40)
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument(
        "--no-compiled", action="store_true", help="leave torch's compiler out, which takes a minute or two"
    )
    options = parser.parse_args()
    spec = encoder_named(options.encoder)
    side, threads = spec.input_px, torch.get_num_threads()
    images = np.random.default_rng(0).integers(0, 256, (BATCH, side, side, 3), dtype=np.uint8)
    masks = np.full((BATCH, side, side), 255, np.uint8)
    floats = torch.from_numpy(images).permute(0, 3, 1, 2).float() / 255.0
    last = floats.contiguous(memory_format=torch.channels_last)
    crops = [sherd(picture, seed=seed) for seed in range(4) for picture in textures().values()]
    crops = (crops * (1 + options.sherds // len(crops)))[: options.sherds]
    views = sum(1 for crop in crops for _ in views_of(crop, spec))

    rates: dict[str, float] = {}
    with torch.inference_mode():
        bare = load_network(spec).body
        rates["bare network, as built"] = best_rate(lambda: bare(floats), BATCH, options.repeats)
        bare = bare.to(memory_format=torch.channels_last)
        rates["bare network, channels last"] = best_rate(lambda: bare(last), BATCH, options.repeats)
        fold_normalisation(bare)
        rates["bare network, channels last, folded"] = best_rate(lambda: bare(last), BATCH, options.repeats)
    eager = torch_engine(load_network(spec))
    rates["engine: torch"] = best_rate(lambda: eager(images, masks), BATCH, options.repeats)
    if has_onnx():
        graph = onnx_engine(load_network(spec), side, threads)
        rates["engine: ONNX Runtime"] = best_rate(lambda: graph(images, masks), BATCH, options.repeats)
        print(
            f"largest difference between the engines: {np.abs(graph(images, masks) - eager(images, masks)).max():.1e}"
        )
    reason = "left out on request" if options.no_compiled else why_not_compiled()
    if reason is not None:
        print(f"engine: torch, compiled: not measured ({reason})")
    else:
        made = compiled_engine(load_network(spec))
        rates["engine: torch, compiled"] = best_rate(lambda: made(images, masks), BATCH, options.repeats)
        print(
            f"largest difference, compiled from eager: {np.abs(made(images, masks) - eager(images, masks)).max():.1e}"
        )
    rates["encode_crops"] = best_rate(lambda: encode_crops(spec, crops), views, max(2, options.repeats // 2))

    best = max(rate for name, rate in rates.items() if name != "encode_crops")
    print(f"{spec.tag}, {side} px, {threads} threads, {len(crops)} sherds in {views} views")
    for name, rate in rates.items():
        print(f"{name:38s} {rate:7.1f} views/s   {rate / best:5.2f} of the best bare rate")


if __name__ == "__main__":
    main()
