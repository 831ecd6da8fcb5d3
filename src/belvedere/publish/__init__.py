"""IIIF documents and the page."""
