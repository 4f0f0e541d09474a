"""The only place where sheets are read from files: a person's own and the samples that come with the program."""

import os
import stat
from importlib.resources import files
from pathlib import Path

from specs.errors import SpecError
from specs.lines import LONGEST_TEXT
from specs.model import Sheet
from specs.numbers import clip
from specs.parse import parse


def load(path: Path) -> Sheet:
    """The sheet in that file. Raises `SheetErrors` for its faults, `SpecError` where it cannot be read."""
    data = read_bytes(path, LONGEST_TEXT)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise SpecError("sheet.file-not-text", str(path)) from error
    if "\0" in text:
        raise SpecError("sheet.file-not-text", str(path))
    return parse(text)


def samples() -> tuple[str, ...]:
    """Names of the sample sheets, sorted."""
    folder = files("specs") / "samples"
    return tuple(sorted(item.name.removesuffix(".toml") for item in folder.iterdir() if item.name.endswith(".toml")))


def sample(name: str) -> Sheet:
    """The sample sheet of that name. Raises `SpecError` naming all samples."""
    known = samples()
    if name not in known:
        raise SpecError("sheet.sample-unknown", clip(name), ", ".join(known))
    return parse((files("specs") / "samples" / f"{name}.toml").read_bytes().decode("utf-8"))


def find(name: str) -> Sheet:
    """The sheet that a person names: a file that is there or ends in .toml, else a sample. Raises `SpecError`."""
    try:
        is_file = name.endswith(".toml") or Path(name).is_file()
    except ValueError:
        is_file = False
    return load(Path(name)) if is_file else sample(name)


def read_bytes(path: Path, most: int) -> bytes:
    """The bytes of an ordinary file of at most `most`. Raises `SpecError`."""
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)  # a pipe would block the opening
    try:
        number = os.open(path, flags)
    except (FileNotFoundError, NotADirectoryError) as error:
        raise SpecError("sheet.file-missing", str(path)) from error
    except ValueError as error:
        raise SpecError("sheet.file-name", clip(str(path))) from error
    except OSError as error:
        raise SpecError("sheet.file-unreadable", str(path), error.strerror or str(error)) from error
    try:
        mode = os.fstat(number).st_mode
        if stat.S_ISDIR(mode):
            raise SpecError("sheet.file-folder", str(path))
        if not stat.S_ISREG(mode):
            raise SpecError("sheet.file-not-plain", str(path))
        with os.fdopen(number, "rb", closefd=False) as file:
            data = file.read(most + 1)
    except OSError as error:
        raise SpecError("sheet.file-unreadable", str(path), error.strerror or str(error)) from error
    finally:
        os.close(number)
    if len(data) > most:
        raise SpecError("sheet.file-long", str(path), str(most))
    return data
