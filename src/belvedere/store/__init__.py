"""The shoot's folder: catalogue, fingerprints, atomic files."""

from belvedere.store.atomic import atomic_path, ensure_writable, write_json, write_text

__all__ = ["atomic_path", "ensure_writable", "write_json", "write_text"]
