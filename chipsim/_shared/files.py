"""Files that are written whole or not at all, and archives of arrays that are not believed before they are read."""

from __future__ import annotations

import math
import os
import secrets
import stat
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import IO, Any, NamedTuple

import numpy as np

from ..errors import DomainError

__all__ = ["Declared", "checked_path", "declared_arrays", "inflated", "new_file", "whole_file"]


def checked_path(path: object, *, name: str = "path", suffix: str = "") -> str:
    """Return the place of a file to be written: links followed, its folder there, no folder itself.

    Parameters
    ----------
    path
        A str or an os.PathLike.
    name
        Of the argument, for messages.
    suffix
        What the file's name must end in, such as '.pdf', in small letters or capitals; '': anything.

    Raises
    ------
    DomainError
        If the path is no path, names a folder, lies in a folder that does not exist, or ends in something else.
    """
    if not isinstance(path, str | os.PathLike):
        raise DomainError(
            f"{name} must be the path of a file, as a str or an os.PathLike, got {type(path).__name__}; an open file "
            f"cannot be replaced as a whole, so its name is needed"
        )
    given = os.fsdecode(path)
    if not given or "\0" in given:
        raise DomainError(f"{name} must be the path of a file, got {given!r}, which can be the name of none")
    if suffix and not os.path.splitext(given)[1].lower() == suffix:
        raise DomainError(f"{name} must be the path of a file whose name ends in {suffix}, got {given!r}")
    # a link stays, what it points to is replaced
    place = os.path.realpath(given)
    folder = os.path.dirname(place)
    if os.path.islink(place):
        raise DomainError(f"{name} must be the path of a file, got {given!r}, a link that leads back to itself")
    if os.path.isdir(place) or given.endswith(("/", os.sep)):
        raise DomainError(f"{name} must be the path of a file, got {given!r}, which names a folder")
    if not os.path.isdir(folder):
        raise DomainError(
            f"{name} must lie in a folder that exists, got {given!r}: there is no folder {folder!r}. Make the folder "
            f"first, or look for a slip in its name"
        )
    return place


@contextmanager
def whole_file(path: object, mode: str = "w", *, name: str = "path", encoding: str = "utf-8") -> Iterator[IO[Any]]:
    """Open a file to be written; it takes the place of the old one only when the block ends without an error.

    What is written goes to a file without a name in the same folder, is flushed to the disk and only then put in place
    of the old one, whose permissions it keeps. Whenever the process is killed or the disk is full, the old file is as
    it was. Where the system knows no files without a name, the new one is called `.<name>.<digits>.part`: after an
    error it is removed, only a process that is killed or a power cut can leave it behind. A device or a pipe has
    nothing that could be lost and is written to directly.

    Parameters
    ----------
    path
        See `checked_path`.
    mode
        'w': text, line ends as they are written; 'wb': bytes.
    name
        Of the argument, for messages.
    encoding
        Of text.

    Raises
    ------
    DomainError
        As `checked_path`.
    OSError
        If the file cannot be written: no space, no permission. A file that is write-protected is not replaced.
    """
    place = checked_path(path, name=name)
    how: dict[str, Any] = {} if "b" in mode else {"newline": "", "encoding": encoding}
    old = os.stat(place) if os.path.exists(place) else None
    if old is not None and not stat.S_ISREG(old.st_mode):
        with open(place, mode, **how) as handle:
            yield handle
        return
    if old is not None and not os.access(place, os.W_OK):
        raise PermissionError(13, "the file is write-protected and was not replaced", place)
    folder, beside, descriptor, named = _to_be_named(place)
    try:
        with open(descriptor, mode, **how) as handle:
            yield handle
            handle.flush()
            if old is not None:
                _keep_owner_and_mode(handle.fileno(), old)
            os.fsync(handle.fileno())
            if not named:
                named = _name(handle.fileno(), folder, beside, place)
        # closed before it is moved: a system may refuse to move an open file
        if named:
            os.replace(beside, place)
    except BaseException:
        with suppress(OSError):
            os.unlink(beside)
        raise
    _flush_folder(folder)


def new_file(path: object, content: bytes, *, name: str = "path") -> None:
    """Write a file that is not there yet, whole or not at all; one that is there is never touched.

    Two processes that write at once cannot destroy each other: of the same name, one of them gets the error.

    Raises
    ------
    FileExistsError
        If there is a file, or anything else, of that name.
    DomainError, OSError
        As `whole_file`.
    """
    given = os.fsdecode(path) if isinstance(path, (str, bytes, os.PathLike)) else path
    if isinstance(given, str) and os.path.lexists(given):
        raise FileExistsError(17, "there is a file of that name", given)
    place = checked_path(path, name=name)
    folder, beside, descriptor, named = _to_be_named(place)
    try:
        with open(descriptor, "wb") as handle:
            handle.write(content)
            handle.flush()
            os.fsync(handle.fileno())
            if not named:
                os.link(f"/proc/self/fd/{handle.fileno()}", place, src_dir_fd=handle.fileno())
        if named and os.name == "nt":
            os.rename(beside, place)  # which there refuses to replace
        elif named:
            os.link(beside, place)
    finally:
        if named:
            with suppress(OSError):
                os.unlink(beside)
    _flush_folder(folder)


def _to_be_named(place: str) -> tuple[str, str, int, bool]:
    """A file to be put in place once whole: folder, its name until then, descriptor, whether it bears that name."""
    folder, last = os.path.split(place)
    # cut short, because a name may be as long as the system allows
    beside = os.path.join(folder, f".{last[:40]}.{secrets.token_hex(8)}.part")
    descriptor = _unnamed(folder)
    if descriptor is not None:
        return folder, beside, descriptor, False
    kind = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    return folder, beside, os.open(beside, kind, 0o666), True


def _unnamed(folder: str) -> int | None:
    """Descriptor of a file without a name, which vanishes with the process; None where there are none."""
    kind = getattr(os, "O_TMPFILE", None)
    if kind is None or not os.path.isdir("/proc/self/fd"):
        return None
    try:
        return os.open(folder, kind | os.O_WRONLY, 0o666)
    except OSError:  # not on every file system; what else is wrong, the next attempt will say
        return None


def _name(descriptor: int, folder: str, beside: str, place: str) -> bool:
    """Name a finished file: at once if its place is free, or else beside it; whether it is yet to be moved."""
    source = f"/proc/self/fd/{descriptor}"
    # the source is absolute; a descriptor has to be given for the link in /proc to be followed
    try:
        os.link(source, place, src_dir_fd=descriptor)
        return False
    except FileExistsError:
        os.link(source, beside, src_dir_fd=descriptor)
        return True


def _keep_owner_and_mode(descriptor: int, old: os.stat_result) -> None:
    if hasattr(os, "fchmod"):
        if hasattr(os, "fchown") and (old.st_uid, old.st_gid) != (os.geteuid(), os.getegid()):
            with suppress(OSError):  # only some may give files away
                os.fchown(descriptor, old.st_uid, old.st_gid)
        os.fchmod(descriptor, stat.S_IMODE(old.st_mode))


def _flush_folder(folder: str) -> None:
    """Make the new name last through a power cut, where a folder can be flushed."""
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


class Declared(NamedTuple):
    """What an archive says of an array before it is inflated."""

    shape: tuple[int, ...]
    dtype: np.dtype[Any]

    @property
    def size(self) -> int:
        """Bytes it takes in memory."""
        return math.prod(self.shape) * self.dtype.itemsize


def declared_arrays(archive: zipfile.ZipFile) -> dict[str, Declared]:
    """Shapes and types of the arrays of an .npz archive; only the first bytes of each are inflated.

    Raises
    ------
    ValueError
        If a member is no array, holds objects, is there twice, or is not as long as its own head says.
    """
    found: dict[str, Declared] = {}
    for member in archive.infolist():
        name = member.filename.removesuffix(".npy")
        if name in found:
            raise ValueError(f"{name} is there twice")
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise ValueError(f"{name} is compressed in a way that this library never writes")
        with archive.open(member) as handle:
            # of a later version the head itself could be of any length
            if np.lib.format.read_magic(handle) != (1, 0):
                raise ValueError(f"{name} is no array of version 1.0 of the format")
            shape, _, dtype = np.lib.format.read_array_header_1_0(handle)
            head = handle.tell()
        array = Declared(shape, dtype)
        if dtype.hasobject or min(shape, default=0) < 0 or head + array.size != member.file_size:
            raise ValueError(
                f"{name} is declared as {dtype} of shape {shape}, which its {member.file_size} bytes are not"
            )
        found[name] = array
    return found


def inflated(archive: zipfile.ZipFile, name: str) -> np.ndarray:
    """Read one array of an archive whose `declared_arrays` have been looked at."""
    with archive.open(f"{name}.npy") as handle:
        out: np.ndarray = np.lib.format.read_array(handle, allow_pickle=False)
    return out
