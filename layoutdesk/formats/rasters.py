"""The raster library, imported by one thread at a time."""

from __future__ import annotations

import threading

_importing = threading.Lock()


def raster_library():
    """The module rasterio.

    Its compiled parts import one another: two threads that import it at once each find the other's
    half made, and fail. Whatever reads rasters off the main thread begins with this.
    """
    with _importing:
        import rasterio
        import rasterio.enums
        import rasterio.errors
        import rasterio.transform
        import rasterio.windows
    return rasterio
