"""Parts that pages are made of. Browser code lies beside the Python that mounts it."""
