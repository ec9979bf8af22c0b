"""Words of drawings, set as a whole by the printer.

Left alone it sets them letter by letter, since a drawing may move and turn each one: a third
of all lines that it sets for a report, and no kerning. Our drawings leave letters where they are.
"""

from collections.abc import Iterator


class _Whole(str):
    """A text that is one piece to whoever goes through its letters."""

    def __iter__(self) -> Iterator[str]:
        yield str(self)


def set_words_whole(svg) -> None:
    """Let the printer's module for drawings have the words of each element in one piece."""
    svg.Node.text = property(_words)


def _words(node) -> str | None:
    text = node._etree_node.text
    return None if text is None else _Whole(text)
