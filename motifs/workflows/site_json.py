"""A comparison of sites as one JSON document: no value that JSON lacks, the unit beside every table."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from motifs.sites import CountTable, Ordination, SimilarityMatrix
    from motifs.workflows.site_vectors import UntaggedView
    from motifs.workflows.sites import SiteComparison, TaggedView


def comparison_document(found: SiteComparison) -> dict[str, Any]:
    """The whole comparison; parts that could not be made are empty."""
    tagged = found.tagged
    document = {
        "unit": found.unit,
        "kind": found.settings.kind,
        "vessels": {"judged": found.judged, "proposed": found.proposed},
        "table": {} if tagged is None else table_document(tagged.table),
        "tables": {unit: table_document(one) for unit, one in found.tables.items()},
        "brainerd_robinson": {} if tagged is None else _brainerd_robinson(tagged),
        "ordination": {} if tagged is None or tagged.ordination is None else _ordination(tagged.ordination),
        "diversity": {} if tagged is None else _diversity(tagged),
        "untagged": {} if found.untagged is None else _untagged(found.untagged),
        "periods": {} if found.periods is None else asdict(found.periods),
        "notes": list(found.notes),
        **({} if tagged is None else _further(tagged)),
    }
    return {key: plain_json(value) for key, value in document.items()}


def table_document(table: CountTable) -> dict[str, Any]:
    """Sites, motifs, counts and unit of a table."""
    return {"unit": table.unit, "sites": table.sites, "motifs": table.motifs, "counts": table.frame().to_numpy()}


def plain_json(value: object) -> object:
    """The same with lists for tuples and arrays, plain numbers, and None for what is not a number."""
    if isinstance(value, dict):
        return {_key(key): plain_json(one) for key, one in value.items()}
    if isinstance(value, np.ndarray):
        return plain_json(value.tolist())
    if isinstance(value, list | tuple):
        return [plain_json(one) for one in value]
    if isinstance(value, np.generic):
        return plain_json(value.item())
    if isinstance(value, float):
        return round(value, 9) if math.isfinite(value) else None
    return value


def _key(key: object) -> str:
    return " / ".join(map(str, key)) if isinstance(key, tuple) else str(key)


def _matrix(matrix: SimilarityMatrix) -> dict[str, Any]:
    return {"measure": matrix.measure, "unit": matrix.unit, "sites": matrix.sites, "values": matrix.values}


def _brainerd_robinson(tagged: TaggedView) -> dict[str, Any]:
    pairs = [
        {
            "a": pair.a,
            "b": pair.b,
            "similarity": pair.tested.similarity,
            "p_value": pair.tested.p_value,
            "expected_if_one": pair.tested.null_mean,
            "low_if_one": pair.tested.null_low,
            "permutations": pair.tested.permutations,
            "interval_by_vessels": None if pair.resampled is None else [pair.resampled.low, pair.resampled.high],
            "warnings": [*pair.tested.warnings, *(() if pair.resampled is None else pair.resampled.warnings)],
        }
        for pair in tagged.pairs
    ]
    return {**_matrix(tagged.similarity), "pairs": pairs}


def _ordination(found: Ordination) -> dict[str, Any]:
    return {
        "method": "correspondence analysis",
        "unit": found.unit,
        "inertias": found.inertias,
        "axis_shares": found.axis_shares,
        "total_inertia": found.total_inertia,
        "sites": found.site_frame().reset_index().to_dict("records"),
        "motifs": found.motif_frame().reset_index().to_dict("records"),
        "warnings": found.warnings,
    }


def _diversity(tagged: TaggedView) -> dict[str, Any]:
    rarefied = tagged.rarefied.to_dict("index")
    return {
        str(site): {**row, "rarefied": rarefied[site]["expected"], "rarefied_to": rarefied[site]["size"]}
        for site, row in tagged.diversity.to_dict("index").items()
    }


def _further(tagged: TaggedView) -> dict[str, Any]:
    seriation, tree, network = tagged.seriation, tagged.tree, tagged.network
    return {
        "similarity": _matrix(tagged.chosen),
        "rarefaction": dict(tagged.curves),
        "shares": {key: asdict(one) for key, one in tagged.shares.items()},
        "standings": None if tagged.standings is None else asdict(tagged.standings),
        "seriation": None if seriation is None else asdict(seriation),
        "tree": None if tree is None else {**asdict(tree), "merges": tree.merges},
        "network": None if network is None else asdict(network),
        "independence": None
        if tagged.independence is None
        else {
            name: value for name, value in asdict(tagged.independence).items() if name not in {"expected", "residuals"}
        },
    }


def _untagged(found: UntaggedView) -> dict[str, Any]:
    return {
        "encoder": found.encoder,
        "pieces": found.pieces,
        **_matrix(found.similarity),
        "energy_distances": found.distance,
        "pairs": [asdict(pair) for pair in found.pairs],
        "agreement": None if found.agreement is None else asdict(found.agreement),
    }
