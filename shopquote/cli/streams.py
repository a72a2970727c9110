"""What is printed: text of other people's is shown on the terminal, never obeyed by it."""

from typing import Any, TextIO

from shopquote.calc.numbers import shown


class ShowingStream:
    """A stream that writes out what a terminal would obey; `obeying` is the stream behind it."""

    def __init__(self, obeying: TextIO) -> None:
        self.obeying = obeying

    def write(self, text: str) -> int:
        """Write a text, its escapes shown."""
        # Here and not where texts are read: files of older programs and other people's sheets hold them too.
        return self.obeying.write(shown(text))

    def writelines(self, lines: Any) -> None:
        """Write each line."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        """Everything else is the stream's own."""
        return getattr(self.obeying, name)
