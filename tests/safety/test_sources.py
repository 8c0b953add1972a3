"""What the program's own text may not hold: pickles, shells, evaluated text, caches that pickle, weights read unchecked.

The danger is common knowledge of the language: the documentation of Python's `pickle` warns that reading untrusted pickles runs
whatever they say; PyTorch's `torch.load` and NumPy's `load` can read pickles, `weights_only` and `allow_pickle` say whether they do.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from motifs.embedding import ENCODERS
from motifs.embedding.cards import shipped_encoders
from motifs.embedding.weights import load_network
from motifs.errors import ModelError

ROOT = Path(__file__).resolve().parents[2]
FILES = sorted([*(ROOT / "motifs").rglob("*.py"), ROOT / "app.py"])
REFUSED_MODULES = {"pickle", "cPickle", "_pickle", "dill", "cloudpickle", "joblib", "shelve", "marshal", "yaml", "pty"}
REFUSED_CALLS = {"eval", "exec", "compile", "__import__"}
RESTRICTED_TORCH_LOAD = {
    "embedding/weights.py": "weights of a package that ships no other format; their sha256 is compared before",
    "training/motif_encoder.py": "checkpoints of a training run of one's own; no part of the program's use",
}


def calls(path: Path) -> list[tuple[str, ast.Call]]:
    """Every call with its dotted name."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [(ast.unparse(node.func), node) for node in ast.walk(tree) if isinstance(node, ast.Call)]


def name_of(path: Path) -> str:
    return path.relative_to(ROOT / "motifs").as_posix() if path.is_relative_to(ROOT / "motifs") else path.name


def test_there_is_something_to_look_at() -> None:
    assert len(FILES) > 200
    assert any(name == "torch.load" for path in FILES for name, _ in calls(path))


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_nothing_in_a_file_can_run_what_it_reads(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    imported = {
        name.split(".")[0]
        for node in ast.walk(tree)
        for name in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
    }
    assert imported & REFUSED_MODULES == set()
    for name, call in calls(path):
        where, keywords = f"line {call.lineno}: {name}", {k.arg: ast.unparse(k.value) for k in call.keywords}
        assert name not in REFUSED_CALLS, where
        assert name not in {"os.system", "os.popen"}, where
        assert keywords.get("shell") != "True", where
        assert keywords.get("allow_pickle", "False") == "False", where
        assert not name.endswith(("cache_data", "extractall", "unpack_archive")), where
        if name in {"torch.load", "torch.hub.load", "torch.jit.load"}:
            assert name_of(path) in RESTRICTED_TORCH_LOAD, f"{where}: read safetensors instead"
            assert (name, keywords.get("weights_only")) == ("torch.load", "True"), where


def test_own_weights_are_safetensors_and_every_encoder_pins_its_sum() -> None:
    shipped = {path.suffix for path in (ROOT / "models").iterdir() if path.stat().st_size > 1_000_000}
    assert shipped == {".safetensors"}
    for spec in (*ENCODERS, *shipped_encoders()):
        assert len(spec.sha256) >= 32, spec.tag


def test_weights_whose_sum_is_another_are_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import torch

    own = shipped_encoders()
    for file in (ROOT / "models").iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes() + (b"\0" if file.suffix == ".safetensors" else b""))
    monkeypatch.setattr(torch, "load", lambda *_, **__: pytest.fail("read before its sum was compared"))
    with pytest.raises(ModelError, match="altered: sha256"):
        load_network(own[0], tmp_path)
