"""Hashes that tie a record to the very bytes it was made from, and show when a record was changed afterwards."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from sensorcal.errors import FileError

_CHUNK = 1 << 16


def sha256_of_bytes(data: bytes) -> str:
    """SHA-256 of some bytes as 64 hexadecimal digits.

    References
    ----------
    FIPS PUB 180-4, Secure Hash Standard.

    Examples
    --------
    >>> sha256_of_bytes(b"abc")[:16]
    'ba7816bf8f01cfea'
    """
    return hashlib.sha256(data).hexdigest()


def sha256_of_file(path: str | Path) -> str:
    """SHA-256 of a file's bytes as 64 hexadecimal digits.

    Raises
    ------
    FileError
        The file cannot be read.
    """
    digest = hashlib.sha256()
    try:
        with Path(path).open("rb") as stream:
            while chunk := stream.read(_CHUNK):
                digest.update(chunk)
    except OSError as error:
        raise FileError("the file cannot be read", do="check its name and place", file=str(path)) from error
    return digest.hexdigest()


def content_sha256(document: dict[str, Any]) -> str:
    """SHA-256 of what a JSON document says, whatever its line breaks and the order of its keys.

    The key ``content_sha256`` itself is left out. Every number counts as a double, so that 1 and 1.0 are the same.

    Examples
    --------
    >>> content_sha256({"a": 1, "b": [2.0]}) == content_sha256({"b": [2], "a": 1.0})
    True
    """
    said = {key: value for key, value in document.items() if key != "content_sha256"}
    text = json.dumps(_doubles(said), sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return sha256_of_bytes(text.encode("ascii"))


def _doubles(value: Any) -> Any:  # noqa: ANN401 - a JSON document has any shape
    if isinstance(value, dict):
        return {key: _doubles(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [_doubles(entry) for entry in value]
    if isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    return value
