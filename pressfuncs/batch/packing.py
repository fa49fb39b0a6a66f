"""Packing by deflate, pieces of a large part side by side on all cores."""

from __future__ import annotations

import os
import zlib

_LEVEL = 5  # level 6 takes half as long again for one part in a hundred
_WINDOW = 1 << 15  # how far back deflate looks
_PIECE = 4 << 20


def deflated(data: bytes) -> bytes:
    """Return the bytes packed, as one stream.

    >>> zlib.decompress(deflated(b"die" * 1000), -zlib.MAX_WBITS) == b"die" * 1000
    True
    """
    starts = range(0, max(1, len(data)), _PIECE)
    if len(starts) == 1:
        return _piece(data, 0)
    from concurrent.futures import ThreadPoolExecutor  # of no use to a small book, which is to begin soon

    with ThreadPoolExecutor(min(len(starts), os.cpu_count() or 1)) as pool:  # zlib lets other threads run
        return b"".join(pool.map(lambda start: _piece(data, start), starts))


def _piece(data: bytes, start: int) -> bytes:
    """Pack the piece that begins at a place; it may refer to the bytes before it, which every reader still has."""
    end = start + _PIECE
    before = data[max(0, start - _WINDOW) : start]
    deflate = zlib.compressobj(_LEVEL, zlib.DEFLATED, -zlib.MAX_WBITS, zdict=before)
    packed = deflate.compress(memoryview(data)[start:end])
    return packed + deflate.flush(zlib.Z_FINISH if end >= len(data) else zlib.Z_SYNC_FLUSH)
