"""What any vector index has to offer to be asked, so that a server or an approximate index can take faiss's place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    import numpy as np
    from numpy.typing import NDArray


class NeighbourIndex(Protocol):
    """Unit vectors of one encoder under text keys; VectorIndex tells what each method promises."""

    tag: str
    dim: int

    def __len__(self) -> int:
        """Count the keys."""

    def __contains__(self, key: object) -> bool:
        """Tell whether a key is in the index."""

    def vectors(self, keys: Sequence[str]) -> NDArray[np.float32]:
        """Give stored vectors back."""

    def search(
        self,
        queries: NDArray[np.float32],
        top: int,
        allowed: Collection[str] | None = None,
        excluded: Collection[str] = (),
    ) -> list[list[tuple[str, float]]]:
        """Find (key, similarity), nearest first."""
