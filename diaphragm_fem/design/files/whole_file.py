"""A file written whole or not at all."""

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from errno import EACCES, EEXIST
from pathlib import Path
from secrets import token_hex

from diaphragm_fem.design.files.draft import draft_prefix


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A name beside a file, to write to: it takes the file's place when the block is over.

    Where the block does not come to its end, as on a full disk, what was there stays. OSError for a link, a pipe or a
    device of that name: what a link leads to is not ours, and on the reader of a pipe one would wait; and for a file
    that may not be written.
    """
    with suppress(FileNotFoundError):
        if not stat.S_ISREG(path.lstat().st_mode):
            raise FileExistsError(EEXIST, "is there already, and is a folder, a link, a pipe or the like", str(path))
        if not os.access(path, os.W_OK):
            raise PermissionError(EACCES, os.strerror(EACCES), str(path))
    draft = path.with_name(f"{draft_prefix()}{token_hex(4)}{path.suffix}")
    try:
        yield draft
        os.replace(draft, path)
    except OSError as error:
        if error.filename in (draft, str(draft)):
            error.filename, error.filename2 = str(path), None
        raise
    finally:
        draft.unlink(missing_ok=True)


def write_whole(path: Path, text: str, *, encoding: str = "utf-8", newline: str | None = None) -> Path:
    """Write a text as a whole file; returns its path."""
    with whole_file(path) as draft:
        draft.write_text(text, encoding=encoding, newline=newline)
    return path
