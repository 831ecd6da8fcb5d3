"""The shoot's folder: catalogue, fingerprints, atomic files."""
