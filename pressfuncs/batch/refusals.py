"""The one way the batch mode refuses a whole file."""

from __future__ import annotations

from pathlib import Path


class Refused(Exception):
    """A file that is not worked on and stays as it is: one sentence with the cause and the cure.

    `sentence` reads on from the file's name; `path` is the file, None as long as it is not known. The text of
    the exception is both together.
    """

    def __init__(self, sentence: str, path: Path | None = None) -> None:
        """Keep the sentence and the file."""
        super().__init__(sentence, path)
        self.sentence = _on_one_line(sentence)
        self.path = path

    def __str__(self) -> str:
        return f"{_on_one_line(self.path.name)}: {self.sentence}" if self.path is not None else self.sentence


def _on_one_line(text: str) -> str:
    """Return text without line ends and control characters: names of files and parts may hold some."""
    return "".join(letter if letter.isprintable() else "\ufffd" for letter in text)
