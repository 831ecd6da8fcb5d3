"""The shoot's folder: catalogue, fingerprints, atomic files."""

from belvedere.store.atomic import atomic_path, ensure_writable, write_bytes, write_json, write_text
from belvedere.store.catalogue import Catalogue, Retake, catalogue_folder, open_catalogue
from belvedere.store.fingerprint import code_fingerprint, fingerprint

__all__ = [
    "Catalogue",
    "Retake",
    "atomic_path",
    "catalogue_folder",
    "code_fingerprint",
    "ensure_writable",
    "fingerprint",
    "open_catalogue",
    "write_bytes",
    "write_json",
    "write_text",
]
