"""Encoders: frozen specifications, fixed-scale views, and sherds to vectors. torch loads on first use only."""

from motifs.embedding.cards import encoder_named, read_card, shipped_encoders, write_model
from motifs.embedding.encode import encode_crops
from motifs.embedding.specs import EFFICIENTNET_LITE0, ENCODERS, EncoderSpec
from motifs.embedding.views import View, cut_box, views_of

__all__ = [
    "EFFICIENTNET_LITE0",
    "ENCODERS",
    "EncoderSpec",
    "View",
    "cut_box",
    "encode_crops",
    "encoder_named",
    "read_card",
    "shipped_encoders",
    "views_of",
    "write_model",
]
