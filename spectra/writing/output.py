"""Putting results in place: whole or not at all, and never over something that is there already.

Results are written into a draft beside their place and moved when they are complete. Whatever ends the
run before that, an error or the user, takes the draft away again.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from spectra.errors import OutputError

AGAIN = "choose another place with --out, or add --force to replace"


def require_free(target: Path, force: bool) -> None:
    """Refuse a place that cannot take a result, before any work is done for it.

    Parameters
    ----------
    target
        Folder or file to be made.
    force
        True to replace files of the same names.

    Raises
    ------
    OutputError
        If the folder around ``target`` is closed or a file, or ``target`` is there already. A folder that
        is missing is made later, when there is something to put into it.
    """
    around = next(folder for folder in target.absolute().parents if folder.exists())
    if not around.is_dir():
        raise OutputError(f"{target}: {around} is a file, not a folder; choose another place with --out")
    if not os.access(around, os.W_OK):
        raise OutputError(f"{target}: no permission to write into {around}; choose another place with --out")
    if target.is_dir():
        if not force and any(target.iterdir()):
            raise OutputError(
                f"{target}: this folder is there and not empty; {AGAIN} the files of an earlier run"
            )
    elif not force and target.exists():
        raise OutputError(f"{target}: this file is there already; {AGAIN} it")


@contextmanager
def placed_folder(target: Path, force: bool = False) -> Iterator[Path]:
    """Give a draft folder; move what was written there to ``target`` when the block ends well.

    With ``force``, files of the same names in ``target`` and its folders are replaced and all others left
    alone.

    Raises
    ------
    OutputError
        As :func:`require_free`, or if ``target`` is a file.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with placed_folder(Path(folder, "result")) as draft:
    ...         _ = (draft / "a.txt").write_text("whole")
    ...     Path(folder, "result", "a.txt").read_text()
    'whole'
    """
    require_free(target, force)
    if target.exists() and not target.is_dir():
        raise OutputError(f"{target}: this is a file; name a folder with --out")
    draft = _beside(target)
    try:
        draft.mkdir(parents=True)
        yield draft
        if target.exists():
            for file in sorted(file for file in draft.rglob("*") if file.is_file()):
                place = target / file.relative_to(draft)
                place.parent.mkdir(parents=True, exist_ok=True)
                file.replace(place)
        else:
            draft.rename(target)
    except OSError as error:
        raise _output_error(target, error) from error
    except OutputError as error:  # told of the draft, which the user never sees
        raise OutputError(str(error).replace(str(draft), str(target))) from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def place_file(target: Path, content: bytes, force: bool = False) -> None:
    """Write one file whole or not at all.

    Raises
    ------
    OutputError
        As :func:`require_free`, or if ``target`` is a folder.
    """
    if target.is_dir():
        raise OutputError(f"{target}: this is a folder; name a file with --out")
    require_free(target, force)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _output_error(target, error) from error
    write_file(target, content)


def write_file(target: Path, content: bytes, overwrite: bool = True) -> None:
    """Write one file in one step, so that no half of it is ever seen.

    Parameters
    ----------
    target
    content
    overwrite
        False to refuse where there is a file already.

    Raises
    ------
    OutputError
        If there is one, or the disk refuses.
    """
    if not overwrite and target.exists():
        raise OutputError(f"{target}: exists already; choose another name or ask for it to be replaced")
    draft = _beside(target)
    try:
        draft.write_bytes(content)
        draft.replace(target)
    except OSError as error:
        raise _output_error(target, error) from error
    finally:
        draft.unlink(missing_ok=True)


def _beside(target: Path) -> Path:
    """Return a name for the draft that no other run uses, on the same disk as the target."""
    return target.parent / f".{target.name}.{os.getpid()}.part"


def _output_error(target: Path, error: OSError) -> OutputError:
    return OutputError(f"{target}: cannot be written ({error.strerror or error}); check disk and permissions")
