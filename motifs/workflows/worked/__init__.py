"""Three worked scripts for a notebook: the middle packages used directly, pandas frames in and out.

``sites_from_a_table``: a table of counts to pairs of sites, diversity and an order. ``vessels_from_rims``: a list of rims to
equivalents and numbers of vessels. ``symmetry_of_bands``: pictures of bands to a table of their groups.
Each runs as ``python -m motifs.workflows.worked.NAME``, with a small invented table or one of your own.
"""
