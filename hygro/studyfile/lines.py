"""Where a key stands: the line of every key and list item of a TOML text, and errors that name it.

The text has been read by ``tomllib`` before, so that only valid TOML comes here; this module finds places and reads no
values. May import: errors.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Final

from hygro.errors import InputError

Path = tuple[str | int, ...]

_BLANK: Final = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_KEY: Final = re.compile(r"""[A-Za-z0-9_-]+|"(?:\\.|[^"\\])*"|'[^']*'""")
_DOT: Final = re.compile(r"[ \t]*\.[ \t]*")
_STRING: Final = re.compile(
    r'"""(?:\\.|(?!""")[^\\])*"{3,5}' r"|'''(?:(?!''')[\s\S])*'{3,5}" r'|"(?:\\.|[^"\\])*"' r"|'[^']*'", re.DOTALL
)
_BARE: Final = re.compile(r"[^,\]}\n#]+")
_ESCAPE: Final = re.compile(r"\\(u[0-9a-fA-F]{4}|U[0-9a-fA-F]{8}|.)")
_PLAIN_ESCAPES: Final = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r"}


def line_numbers(text: str) -> Mapping[Path, int]:
    """Line of each key and list item, counted from 1, by its path.

    Parameters
    ----------
    text : str
        Valid TOML.

    Returns
    -------
    mapping of tuple to int
        Paths hold keys, and places in lists counted from 0.
    """
    scanner = _Scanner(text)
    scanner.document()
    return scanner.found


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0
        self.found: dict[Path, int] = {}
        self.lengths: dict[Path, int] = {}

    def document(self) -> None:
        table: Path = ()
        self.blank()
        while self.at < len(self.text):
            if self.text.startswith("[", self.at):
                table = self.header()
            else:
                self.pair(table)
            self.blank()

    def header(self) -> Path:
        line, is_list = self.line(), self.text.startswith("[[", self.at)
        self.at += 2 if is_list else 1
        keys = self.keys()
        self.at += 2 if is_list else 1
        path: Path = ()
        for key in keys[:-1]:
            path = self.last((*path, key))
            self.found.setdefault(path, line)
        path = (*path, keys[-1])
        self.found.setdefault(path, line)
        if is_list:
            self.lengths[path] = self.lengths.get(path, 0) + 1
            path = self.last(path)
        self.found.setdefault(path, line)
        return path

    def last(self, path: Path) -> Path:
        """The table that a header means where lists of tables are on the way: the last one."""
        return (*path, self.lengths[path] - 1) if path in self.lengths else path

    def pair(self, table: Path) -> None:
        line, path = self.line(), table
        for key in self.keys():
            path = (*path, key)
            self.found.setdefault(path, line)
        self.at += 1  # the equals sign
        self.value(path)

    def keys(self) -> list[str]:
        names: list[str] = []
        while True:
            self.blank()
            match = _KEY.match(self.text, self.at)
            assert match is not None, "not reached with valid TOML"  # noqa: S101
            names.append(_unquoted(match[0]))
            self.at = match.end()
            dot = _DOT.match(self.text, self.at)
            if dot is None:
                self.blank()
                return names
            self.at = dot.end()

    def value(self, path: Path) -> None:
        self.blank()
        opened = self.text[self.at]
        if opened in "[{":
            self.at += 1
            self.items(path, "]" if opened == "[" else "}")
            return
        match = _STRING.match(self.text, self.at) or _BARE.match(self.text, self.at)
        assert match is not None, "not reached with valid TOML"  # noqa: S101
        self.at = match.end()

    def items(self, path: Path, closed: str) -> None:
        number = 0
        self.blank()
        while self.text[self.at] != closed:
            if closed == "]":
                self.found[(*path, number)] = self.line()
                self.value((*path, number))
                number += 1
            else:
                self.pair(path)
            self.blank()
            if self.text[self.at] == ",":
                self.at += 1
                self.blank()
        self.at += 1

    def blank(self) -> None:
        match = _BLANK.match(self.text, self.at)
        self.at = self.at if match is None else match.end()

    def line(self) -> int:
        return self.text.count("\n", 0, self.at) + 1


def _unquoted(key: str) -> str:
    if key.startswith("'"):
        return key[1:-1]
    if not key.startswith('"'):
        return key
    return _ESCAPE.sub(
        lambda match: chr(int(match[1][1:], 16)) if match[1][0] in "uU" and len(match[1]) > 1
        else _PLAIN_ESCAPES.get(match[1], match[1]),
        key[1:-1],
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class At:
    """A place in a study file.

    Parameters
    ----------
    file : str
        Name of the file, as the user knows it.
    lines : mapping of tuple to int
        Line of each path.
    path : tuple
        Where in the file.
    """

    file: str
    lines: Mapping[Path, int] = field(default_factory=dict, repr=False)
    path: Path = ()

    def __truediv__(self, step: str | int) -> At:
        return At(self.file, self.lines, (*self.path, step))

    def error(self, message: str) -> InputError:
        """Error that names file, line and key before the message."""
        known = next((self.path[:n] for n in range(len(self.path), 0, -1) if self.path[:n] in self.lines), None)
        line = "" if known is None else f", line {self.lines[known]}"
        key = f", {self.words}" if self.path else ""
        return InputError(f"{self.file}{line}{key}: {message}")

    def unknown(self, keys: Iterable[str]) -> InputError:
        """Error for a key that means nothing here, with the nearest ones that do."""
        listed = list(keys)
        near = get_close_matches(str(self.path[-1]), listed, n=2, cutoff=0.68)
        hint = f"Did you mean {' or '.join(map(repr, near))}? " if near else ""
        return self.error(f"there is no such key here. {hint}Possible: {', '.join(listed)}.")

    @property
    def words(self) -> str:
        """The path as a reader says it: ``variant 2, leak, q50``."""
        said: list[str] = []
        for step in self.path:
            if isinstance(step, int):
                said[-1] += f" {step + 1}"
            else:
                said.append(step)
        return ", ".join(said)
