"""What a step's result depends on, as one short text."""

from __future__ import annotations

import functools
import hashlib
import json
from importlib.resources import files
from typing import Any


@functools.cache
def code_fingerprint(*packages: str) -> str:
    """A digest of the Python sources directly in `packages`: the version of their code."""
    digest = hashlib.blake2b(digest_size=16)
    for package in packages:
        for entry in sorted(files(package).iterdir(), key=lambda found: found.name):
            if entry.name.endswith(".py"):
                digest.update(entry.name.encode() + b"\0" + entry.read_bytes())
    return digest.hexdigest()


def fingerprint(*parts: Any) -> str:
    """A digest of parts that JSON can hold."""
    text = json.dumps(parts, sort_keys=True, default=str)
    return hashlib.blake2b(text.encode(), digest_size=16).hexdigest()
