"""Output streams that show control characters in printed text, so that a terminal never obeys them."""

from typing import Any, TextIO

from shopquote.calc.numbers import shown


class ShowingStream:
    """Passes text on to the stream `obeying` with control characters made visible."""

    def __init__(self, obeying: TextIO) -> None:
        self.obeying = obeying

    def write(self, text: str) -> int:
        """Write a text with its control characters made visible."""
        # Done on output as well as input: older databases and other people's sheets hold such characters.
        return self.obeying.write(shown(text))

    def writelines(self, lines: Any) -> None:
        """Write each line the same way."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        """Everything else belongs to the stream behind."""
        return getattr(self.obeying, name)
