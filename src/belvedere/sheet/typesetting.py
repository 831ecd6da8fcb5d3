"""Typst at work: sources in memory in, pages out; its own fonts only, no clock, no network."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal


def typeset(
    sources: Mapping[str, bytes],
    form: Literal["pdf", "png"],
    *,
    ppi: float | None = None,
    sys_inputs: Mapping[str, str] | None = None,
) -> list[bytes]:
    """What typst makes of `sources` (by file name; "main" is the document).

    A PDF is one document; PNG is one picture for each page. The same sources give the same bytes.
    """
    import typst

    # The library takes a mapping of files too; its type stubs do not say so.
    compile_: Any = typst.compile
    made = compile_(
        dict(sources),
        format=form,
        ppi=ppi,
        ignore_system_fonts=True,
        sys_inputs=dict(sys_inputs or {}),
        timestamp=0,
    )
    return list(made) if isinstance(made, list) else [bytes(made)]
