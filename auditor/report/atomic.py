"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path


def write_whole(path: Path, content: bytes) -> None:
    """Write `content` to `path` so that a failure at any moment leaves the old file as it was.

    The bytes go to a new file in the same folder, reach the disk, and only then take the name.
    """
    target = path.resolve()
    waiting = target.with_name(f".{secrets.token_hex(8)}.part")
    # Opened by hand, so that the new file gets the ordinary permissions of its owner and never follows a link.
    handle = os.open(waiting, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        waiting.replace(target)
    except BaseException:
        with contextlib.suppress(FileNotFoundError):
            waiting.unlink()
        raise
