"""From bytes to lines: the checks every uploaded text file passes before anything is read from it."""

from __future__ import annotations

import codecs

from labtests.domain.files.problems import ProblemLog

MAX_FILE_BYTES = 20_000_000
WHOLE_FILE = "file"
# A workbook or a picture has a NUL among so many of its first bytes.
HEAD_BYTES = 64
# How spreadsheets mark what they call Unicode text.
UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
CONTROL_BYTES = bytes(set(range(32)) - set(b"\t\r\n")) + b"\x7f"


def decode_text(data: bytes, log: ProblemLog) -> str:
    """Decode a file; raises `FileRejected` where it is no readable text.

    Parameters
    ----------
    data : bytes
        The whole file, at most `MAX_FILE_BYTES`.
    log : ProblemLog
        Receives what is wrong.

    Returns
    -------
    str
        Lines end in a line feed, whichever way they were written.

    Raises
    ------
    FileRejected
        Empty, too large, not UTF-8, or with control characters.

    Examples
    --------
    >>> decode_text(b"a,b\\r\\n1,2", ProblemLog("x.csv"))
    'a,b\\n1,2'
    """
    if len(data) > MAX_FILE_BYTES:
        log.reject(
            1, WHOLE_FILE, f"the file has {len(data)} bytes; at most {MAX_FILE_BYTES} (20 MB) are accepted, unpacked"
        )
    content = data.removeprefix(codecs.BOM_UTF8)
    if not content or content.isspace():
        log.reject(1, WHOLE_FILE, "the file is empty; export it from the rig once more")
    if data.startswith(UTF16_MARKS):
        log.reject(1, WHOLE_FILE, "the file is UTF-16 (“Unicode text”); save it as CSV in UTF-8")
    _refuse_control_characters(data, log)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        log.reject(line, WHOLE_FILE, f"byte {error.start + 1} is not UTF-8; save the file as CSV in UTF-8")
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


def decode_lines(data: bytes, log: ProblemLog) -> list[str]:
    """Decode a file as `decode_text` does and split it into lines without their ends.

    Examples
    --------
    >>> decode_lines(b"a,b\\r\\n1,2", ProblemLog("x.csv"))
    ['a,b', '1,2']
    """
    return decode_text(data, log).split("\n")


def _refuse_control_characters(data: bytes, log: ProblemLog) -> None:
    if len(data.translate(None, CONTROL_BYTES)) == len(data):
        return
    if b"\0" in data[:HEAD_BYTES]:
        # A workbook or a picture: one word on what it is, not a problem for each of its lines.
        log.reject(1, WHOLE_FILE, "the file is not text (a workbook or a picture?); save the table as CSV in UTF-8")
    for number, line in enumerate(data.split(b"\n"), start=1):
        if len(line.translate(None, CONTROL_BYTES)) != len(line):
            log.add(number, WHOLE_FILE, "the line has control characters; the file must be plain text in UTF-8")
    log.raise_if_any()
