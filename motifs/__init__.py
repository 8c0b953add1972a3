"""Photographs of sherds in; vessels, motifs, comparanda, a plan and a record out, with reasons."""

__version__ = "0.1.0"
