"""The only room that opens picture files: EXIF, JPEG, TIFF, tiles."""

from belvedere.imagefiles.folder import FolderSource

__all__ = ["FolderSource"]
