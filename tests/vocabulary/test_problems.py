"""What the operating system says of a failure, in the middle of our sentence."""

from __future__ import annotations

import errno
import os

import pytest

from auditor.vocabulary.problems import system_reason


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (OSError(errno.ENOENT, "No such file or directory"), "no such file or directory"),
        (OSError(errno.EISDIR, "Is a directory", "/tmp/Mill"), "is a directory"),
        (OSError("Not seekable"), "not seekable"),
        (OSError(errno.EIO, "I/O error"), "I/O error"),
        (OSError(errno.EIO, "USB device gone"), "USB device gone"),
        (OSError(), ""),
    ],
)
def test_a_message_begins_with_a_small_letter_unless_it_begins_with_letters_that_stand_for_words(
    error: OSError, told: str
) -> None:
    assert system_reason(error) == told


def test_what_this_system_says_is_taken_over() -> None:
    said = os.strerror(errno.EACCES)
    assert system_reason(PermissionError(errno.EACCES, said)) == said[0].lower() + said[1:]
