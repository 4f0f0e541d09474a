"""Writes what is heard of one port as a capture file, line by line; a file that is there is never written over."""

from pathlib import Path
from typing import TextIO

from bridge.cli.listen_hearing import LinkTold, Told
from bridge.errors import BadInput
from drivers.capture import LONGEST_FILE, Bytes, CaptureWrench, LinkEntry, encode_entry, encode_header
from drivers.stretches import Stretch

LANE = "W1"
NOT_NAMED = "not-named"  # stands where nobody said which profile or serial no. it is


class Record:
    """One capture file with one lane. Nothing is made before the first entry; each line is handed over at once."""

    def __init__(self, path: Path, profile: str | None, serial: str | None, note: str) -> None:
        if path.exists() or path.is_symlink():
            raise BadInput("listen.record-exists", str(path))
        self.path = path
        self.named = profile is not None
        self.made = False
        self._header = encode_header({LANE: CaptureWrench(profile or NOT_NAMED, serial or NOT_NAMED)}, note)
        self._file: TextIO | None = None
        self._room = LONGEST_FILE

    def keep(self, told: Told) -> None:
        """Write it if it is traffic. Raises `BadInput` when the file cannot take it."""
        match told:
            case Stretch(t, data):
                self._write(encode_entry(Bytes(t, LANE, data)))
            case LinkTold(t, change):
                self._write(encode_entry(LinkEntry(t, LANE, change.state)))

    def close(self) -> None:
        """Let go of the file."""
        file, self._file = self._file, None
        if file is not None:
            try:
                file.close()
            except OSError as error:
                raise self._stopped(error) from error

    def _write(self, line: str) -> None:
        try:
            if self._file is None:
                self._file = self._make()
                self.made = True
                self._put(self._file, self._header)
            self._put(self._file, line)
        except FileExistsError as error:
            raise BadInput("listen.record-exists", str(self.path)) from error
        except OSError as error:
            raise self._stopped(error) from error

    def _make(self) -> TextIO:
        return self.path.open("x", encoding="utf-8", newline="\n")

    def _put(self, file: TextIO, line: str) -> None:
        # A longer file could not be read again.
        self._room -= len(line.encode()) + 1
        if self._room < 0:
            raise BadInput("listen.record-full", str(self.path), str(LONGEST_FILE))
        file.write(f"{line}\n")
        file.flush()

    def _stopped(self, error: OSError) -> BadInput:
        return BadInput("listen.record-stopped", str(self.path), error.strerror or str(error))
