"""The address of a site, and the ids that follow from it."""

from __future__ import annotations

from urllib.parse import urlsplit

from belvedere.foundation import PublishError


def parse_address(text: str) -> str:
    """`text` as the address of a folder on the web, ending in ``/``.

    Raises
    ------
    PublishError
        Where `text` is not an absolute http or https address, or carries a query or fragment.
    """
    example = "Write it like https://museum.example/panorama/."
    try:
        parts = urlsplit(text.strip())
        host = parts.hostname
        _ = parts.port
    except ValueError as error:
        raise PublishError(f"{text!r} is not an address ({error}).", example) from error
    if parts.scheme not in ("http", "https") or not host:
        raise PublishError(f"{text!r} is not an address of a web site.", example)
    if parts.query or parts.fragment:
        raise PublishError(f"{text!r} is the address of one view, not of a folder.", example)
    if any(letter.isspace() or letter in '<>"{}|\\^`' for letter in text.strip()):
        raise PublishError(f"{text!r} holds letters that an address cannot hold.", example)
    path = parts.path.removesuffix("index.html").rstrip("/")
    return f"{parts.scheme}://{parts.netloc}{path}/"


def licence_uri(rights: str) -> str | None:
    """`rights` as the IIIF `rights` property may hold it, None where it may not.

    That is the address of a Creative Commons licence or of a RightsStatements.org statement,
    which are both written with http there (Presentation API 3.0, section 3.2, rights).
    """
    parts = urlsplit(rights)
    host = (parts.hostname or "").removeprefix("www.")
    if parts.scheme not in ("http", "https") or any(map(str.isspace, rights)):
        return None
    if host not in ("creativecommons.org", "rightsstatements.org"):
        return None
    return f"http://{host}{parts.path}"
