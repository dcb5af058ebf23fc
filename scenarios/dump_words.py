"""The words of a value change dump: pyvcd's reader behind checks of its own.

That reader takes a file that was cut off for a whole one.  So a comment of ours is laid behind
the file's last byte: a file is whole if the reader comes upon just that comment at the end.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import Any

from vcd.reader import Token, TokenKind, VCDParseError, tokenize

from scenarios.trace_rows import Source, TraceError

BLANK = b" \t\n\r\v\f"
LONGEST_WORD = 1_000_000
"""Characters; vectors of 65,536 bits must be possible."""
_MARK = "that was the whole file"
_TAIL = f"\n\n$comment {_MARK} $end\n".encode()
_BOM = b"\xef\xbb\xbf"
_WORDS = re.compile(rb"[ \t\n\r\v\f]+")

CUT = "the file ends in the middle of an entry, so it was cut off; a value change dump ends with a whole line"


def is_dump(raw: io.BufferedReader) -> bool:
    """Whether a file begins as a value change dump: with a keyword behind a dollar sign."""
    return re.match(rb"(?:\xef\xbb\xbf)?\s*\$[A-Za-z]", raw.peek(1024)) is not None


class _Stream(io.RawIOBase):
    """The file's bytes, then the mark.  ``lines`` counts those begun, ``last`` is the last byte."""

    def __init__(self, source: Source, raw: io.BufferedReader) -> None:
        super().__init__()
        self.source, self.raw = source, raw
        self.ended = False
        self.last = b"\n"
        self.word = 0
        self.breaks = 0
        if raw.peek(3)[:3] == _BOM:
            raw.read(3)

    @property
    def lines(self) -> int:
        """Lines read so far."""
        return self.breaks + (self.last != b"\n")

    def readinto(self, buffer: Any) -> int:
        """Fill the reader's buffer.  Raises TraceError for what is no text."""
        data = b"" if self.ended else self.raw.read1(len(buffer))
        if data:
            self._check(data)
        elif not self.ended:
            self.ended, data = True, _TAIL
        buffer[: len(data)] = data
        return len(data)

    def _check(self, data: bytes) -> None:
        self.source.number = self.lines
        if b"\0" in data:
            raise self.source.error("", "this is not text; a trace is a CSV file or a value change dump")
        words = _WORDS.split(data)
        if len(words) == 1:
            self.word += len(data)
        else:
            self.word = len(words[-1])
        if self.word > LONGEST_WORD:
            raise self.source.error("", f"a word is longer than {LONGEST_WORD:,} characters")
        self.last = data[-1:]
        self.breaks += data.count(b"\n")


def words(source: Source, raw: io.BufferedReader) -> Iterator[Token]:
    """The entries of a dump, with the line of each in ``source.number``.  Raises TraceError."""
    stream = _Stream(source, raw)
    entries = tokenize(stream)
    while (token := _next(source, stream, entries)) is not None:
        source.number = token.span.start.line
        if stream.ended and token.span.end.line > stream.lines + 1:
            if token.kind is TokenKind.COMMENT and token.comment == _MARK:
                break
            raise _cut(source, stream)
        if stream.ended and token.span.end.line > stream.lines and stream.last not in BLANK:
            raise _cut(source, stream)
        yield token
    else:
        raise _cut(source, stream)
    if stream.last not in BLANK:
        raise _cut(source, stream)


def _next(source: Source, stream: _Stream, entries: Iterator[Token]) -> Token | None:
    """One entry, None at the end of the file."""
    try:
        return next(entries, None)
    except TraceError:
        raise
    except VCDParseError as error:
        if stream.ended and error.loc.line > stream.lines:
            raise _cut(source, stream) from None
        # On a line's end the reader is already in the next line, at its column 1.
        source.number = max(error.loc.line - (error.loc.column == 1), 1)
        what = str(error).split(": ", 1)[-1]
        raise source.error("", f"this is no entry of a value change dump ({what})") from None
    except UnicodeDecodeError:
        raise source.error("", "from here on there is a character that is not ASCII, in a word") from None
    except ValueError:
        raise source.error("", "from here on there is a number of too many digits") from None


def _cut(source: Source, stream: _Stream) -> TraceError:
    source.number = stream.lines
    return source.error("", CUT)
