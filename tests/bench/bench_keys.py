"""How many keys and clicks a price takes: the shelf brackets on the page, as a job file, in a workbook.

    python tests/bench/bench_keys.py

A machine types them into a real Chromium: Tab to a field that is near, one click to one that is not. Every
key counts, Tab, Enter and Shift too; a workbook counts the letters of its cells and one key to leave each.
Nobody is timed: what a person thinks comes on top. Needs Chromium and its driver.
"""

import re
import socket
import sys
import tempfile
import threading
from dataclasses import dataclass
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from openpyxl import load_workbook
from selenium.webdriver.common.keys import Keys

from shopquote.page.app import create_app
from shopquote.page.server import run_until_closed
from shopquote.reading.job_book_sheets import write_blank_job_book, write_job_book
from shopquote.reading.job_file import read_job_file
from shopquote.services.shop.clock import now
from shopquote.services.shop.database import open_database
from shopquote.services.shop.new_shop import set_up
from tests.page.test_chromium import Window, open_window

SAMPLE = Path(__file__).parents[2] / "sample_jobs" / "shelf_brackets.toml"
FARTHEST_TABS = 6
IN_FULL = ("leg 250; bend 90 r 36; leg 300", "leg 45; bend 45 r 30; leg 240; bend 45 r 30; leg 45")
SHORT = ("250 90r36 300", "45 45r30 240 45r30 45")


@dataclass
class Typist:
    """Types into the page, and counts."""

    window: Window
    keys: int = 0
    clicks: int = 0

    def press(self, *keys: str) -> None:
        self.keys += len(keys)
        self.window.driver.switch_to.active_element.send_keys(*keys)

    def here(self) -> str:
        return self.window.driver.switch_to.active_element.get_attribute("name") or ""

    def to(self, name: str) -> None:
        """To the field of this name: by Tab where it is near, else by one click."""
        kept = self.keys
        for _ in range(FARTHEST_TABS):
            if self.here() == name:
                return
            self.press(Keys.TAB)
        if self.here() == name:
            return
        self.keys = kept
        self.click(f"[name='{name}']")

    def click(self, css: str) -> None:
        self.clicks += 1
        found = self.window.one(css)
        self.window.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", found)
        found.click()

    def fill(self, name: str, text: str) -> None:
        """Type over what a field holds; a word of a list by its first letters."""
        self.to(name)
        found = self.window.one(f"[name='{name}']")
        if found.tag_name == "select":
            for letters in range(1, len(text) + 1):
                if found.get_attribute("value").startswith(text):
                    return
                self.press(text[letters - 1])
            return
        if found.get_attribute("value") and not self.window.driver.execute_script(
            "const f = arguments[0]; return f.selectionStart === 0 && f.selectionEnd === f.value.length",
            found,
        ):
            self.press(Keys.CONTROL, "a")
        self.press(*text)


def type_brackets(typist: Typist, shapes: tuple[str, str]) -> None:
    """The sample as a person types it; the page's own start is kept where it is right."""
    window = typist.window
    window.go("/price/new")
    window.until(lambda: window.one("#price"))
    job = {
        "title": "Shelf brackets for a bakery",
        "customer": "Dovecote Lane Bakery",
        "sets": "12",
        "breaks": "6, 24",
    }
    for key, text in job.items():
        typist.fill(f"job-0-{key}", text)
    typist.fill("part-0-name", "bracket")
    typist.fill("part-0-bar", "flat 40 x 6")
    typist.fill("part-0-grade", "S275")
    typist.fill("part-0-shape", shapes[0])
    hole = add(typist, "[data-add=holes][data-of='0']", "holes")
    typist.fill(f"{hole}-count", "4")
    typist.fill(f"{hole}-dia", "9")
    typist.fill(add(typist, "[data-add=holes][data-of='0']", "holes") + "-thread", "M8")
    typist.click("[name=part-0-shape]")
    typist.press(Keys.ENTER)
    window.until(lambda: len(window.all("[data-row=part]")) == 2)
    brace = newest(window, "part")
    for key, text in {"name": "brace", "bar": "flat 25 x 5", "grade": "S275", "shape": shapes[1]}.items():
        typist.fill(f"{brace}-{key}", text)
    weld = add(typist, "[data-add=weld]", "weld")
    for key, text in {"kind": "fillet", "leg": "4", "length": "25", "count": "4", "process": "MIG"}.items():
        typist.fill(f"{weld}-{key}", text)
    bought = add(typist, "[data-add=bought]", "bought")
    for key, text in {"name": "M8 x 25 hex bolt, class 8.8", "per_set": "1", "unit_cost": "0.19"}.items():
        typist.fill(f"{bought}-{key}", text)
    typist.fill("finish-0-kind", "paint")
    typist.fill("finish-0-coats", "2")
    window.until(lambda: "12 sets" in window.one("#total").text and window.one("#unit").text != "–")
    typist.press(Keys.CONTROL, Keys.ENTER)
    window.until(lambda: "/quote/J-" in window.driver.current_url)


def newest(window: Window, table: str) -> str:
    """What the names of the last row of a table begin with."""
    names = [found.get_attribute("name") for found in window.all(f"[data-row={table}] [name^='{table}-']")]
    return max(re.findall(rf"{table}-(\d+)-", " ".join(names)), key=int).join((f"{table}-", ""))


def add(typist: Typist, button: str, table: str) -> str:
    """Press a button that adds a row; what its names begin with."""
    window = typist.window
    before = len(window.all(f"[data-row={table}]"))
    typist.click(button)
    window.until(lambda: len(window.all(f"[data-row={table}]")) > before)
    return newest(window, table)


def of_file() -> int:
    """Keys of the job file without comments and blank lines."""
    lines = [line.split(" #")[0].rstrip() for line in SAMPLE.read_text(encoding="utf-8").splitlines()]
    return sum(len(line) + 1 for line in lines if line and not line.startswith("#"))


def of_workbook(folder: Path) -> int:
    """Keys of the job workbook: what was filled in beyond the blank one, and one to leave each cell."""
    filled = load_workbook(write_job_book(read_job_file(SAMPLE), folder / "job.xlsx"))
    blank = load_workbook(write_blank_job_book(folder / "blank.xlsx"))
    typed = [
        str(cell.value)
        for sheet in filled.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None and cell.value != blank[sheet.title][cell.coordinate].value
    ]
    return sum(len(text) + 1 for text in typed)


def main() -> None:
    with (
        tempfile.TemporaryDirectory() as folder,
        open_database(str(Path(folder, "keys.db")), create=True) as database,
    ):
        from waitress.server import create_server

        with database.session() as session:
            set_up(session, on=date(2026, 3, 2))
        listener = socket.socket()
        listener.bind(("127.0.0.1", 0))
        listener.listen(64)
        host = f"127.0.0.1:{listener.getsockname()[1]}"
        app = create_app(database, hosts=frozenset({host}), now=now)
        server = create_server(app, sockets=[listener], threads=4)
        threading.Thread(target=run_until_closed, args=(server,), daemon=True).start()
        driver = open_window(f"http://{host}")
        window = Window(driver, f"http://{host}")
        window.go(f"/in?word={app.extensions['guard'].codes.word}")
        window.size(1280, 1000)
        print(f"{'job file, without comments and blank lines':44} {of_file():5} keys {0:3} clicks")
        print(f"{'job workbook':44} {of_workbook(Path(folder)):5} keys {0:3} clicks")
        for words, shapes in (
            ("page, words of a shape in full", IN_FULL),
            ("page, short form of a shape", SHORT),
        ):
            typist = Typist(window)
            type_brackets(typist, shapes)
            price = re.search(r"[\d.,]+", window.one("#unit").text)
            assert price is not None
            print(f"{words:44} {typist.keys:5} keys {typist.clicks:3} clicks, {price[0]} a set")
        driver.quit()
        server.close()


if __name__ == "__main__":
    main()
