"""Escapes from files, names and words are shown on a terminal and never obeyed; each door refuses them."""

import io
import sqlite3
import sys
from contextlib import closing

import pytest

from shopquote.calc.numbers import is_obeyed, shown
from shopquote.cli.app import main
from shopquote.cli.streams import ShowingStream
from shopquote.errors import InputError
from shopquote.outputs.table import Column, Table
from shopquote.outputs.tables.show import print_facts, print_table
from shopquote.reading.job_file import read_job_text
from shopquote.reading.kinds import CODE, HEAT, NAME, TEXT, Notation
from tests.test_docs import ROOT

# Each does something to a terminal: colours, its title, the clipboard, an erased line, text from the right.
OBEYED = (
    "\x1b[31m", "\x1b]0;title\x07", "\x1b]52;c;aGk=\x07", "\x9b2K", "\r", "\b\b", "\x7f", "\u202e", "\u2028",
)  # fmt: skip


def said(monkeypatch, *words: str) -> tuple[int, str]:
    """Exit code of a command, and all it wrote to the terminal."""
    monkeypatch.setattr(sys, "argv", ["shopquote", *words])
    out, err = io.StringIO(), io.StringIO()
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", err)
    with pytest.raises(SystemExit) as end:
        main()
    return end.value.code or 0, out.getvalue() + err.getvalue()


@pytest.mark.parametrize("letters", OBEYED)
def test_what_is_printed_is_shown(letters, monkeypatch):
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stdout", ShowingStream(stream))
    print(f"rack {letters} 7")
    print_facts([("place", f"rack {letters} 7")])
    print_table(Table([Column("Place", lambda row: row)], [f"rack {letters} 7"]))
    sys.stdout.writelines([letters, "\n"])
    assert not is_obeyed(stream.getvalue())
    assert stream.getvalue().count(shown(letters)) == 4


@pytest.mark.parametrize("letters", OBEYED)
def test_every_door_refuses_them(letters, monkeypatch):
    # Text of several lines takes a return alone for a line's end.
    for kind in (NAME,) if letters == "\r" else (NAME, TEXT, CODE, HEAT):
        with pytest.raises(InputError):
            kind.read(f"a{letters}b", Notation())
    code, text = said(monkeypatch, "rack", "add", "--place", f"a{letters}b")
    assert code == 2 and "word 4 of the command holds a control character" in text
    assert not is_obeyed(text)
    for key in ("title", "customer"):
        with pytest.raises(InputError) as caught:
            words = {"title": "t", "customer": "c"} | {key: f"a{letters}b"}
            escaped = {name: "".join(f"\\U{ord(one):08x}" for one in word) for name, word in words.items()}
            lines = [f'{name} = "{word}"' for name, word in escaped.items()]
            read_job_text("\n".join(["format = 1", "[job]", *lines, "sets = 1"]), "j.toml")
        assert key in str(caught.value) and not is_obeyed(str(caught.value))


def test_a_heading_of_a_file_is_shown(tmp_path, monkeypatch):
    path = tmp_path / "list.csv"
    path.write_text("mark,length,count,\x1b[2Jgone\nA,100,1,x\n", encoding="utf-8")
    code, text = said(monkeypatch, "cut", str(path), "--stock", "6000")
    assert code == 3 and "\\x1b[2Jgone" in text
    assert not is_obeyed(text)


def test_text_of_any_language_stays_as_it_is():
    text = "Größe ½\u00a0in · 日本 \t שלום\n"
    assert shown(text) == text


# Whatever an older program has stored: all that shows it writes it out.
SHOWING = (
    "job list", "job show J-1", "customers list", "rack list", "quote J-1 --out out --pdf --letter",
    "order show O-1 --write --letter --out out", "floor J-1 --out out --labels", "rack export out/rack.xlsx",
    "rack export out/rack.csv", "rack labels --out out", "rack count --out out", "deliver J-1 --out out",
    "log J-1", "job export J-1 --out out", "takeoff J-1", "draw J-1 --out out", "job history J-1",
    "customers export out/customers.xlsx", "customers export out/customers.csv", "close J-1",
    "review J-1 --out out", "bookkeeping --out out",
)  # fmt: skip
WHERE = {
    "customers": "name address", "suppliers": "address", "rack_pieces": "place heat", "shop": "name address",
    "time_entries": "person", "job_revisions": "title enquiry", "parts": "name mark note",
    "invoices": "number",
}  # fmt: skip


def test_what_is_on_file_is_shown_by_every_paper_and_list(shop, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    job = ROOT / "sample_jobs" / "coat_hooks.toml"
    db = ["--db", str(shop.name)]
    for line in (
        f"job add {job}", "quote J-1 --out first", "quotes accepted J-1", "order J-1 --out first",
        "receive O-1", "log J-1 --operation bending --minutes 30 --person Wyn",
        "log J-1 --invoice 1001 --amount 100",
    ):  # fmt: skip
        assert said(monkeypatch, *db, *line.split())[0] == 0, line
    with closing(sqlite3.connect(shop.name)) as connection, connection:
        for table, names in WHERE.items():
            for name in names.split():
                connection.execute(f"UPDATE {table} SET {name} = {name} || ?", ("".join(OBEYED),))
    for line in SHOWING:
        code, text = said(monkeypatch, *db, *line.split())
        assert code == 0, (line, text)
        assert not is_obeyed(text), line
    written = [path for path in (tmp_path / "out").iterdir() if path.suffix in (".txt", ".csv", ".eml")]
    assert len(written) >= 6
    for path in written:
        assert not is_obeyed(path.read_text(encoding="utf-8-sig").replace("\r\n", "\n")), path
    # An export of it is read by nobody; its own cure makes it good.
    for exported, read in (("bad", 3), ("good", 0)):
        assert said(monkeypatch, *db, "db", "export", "--out", f"{exported}.zip")[0] == 0
        code, text = said(monkeypatch, "--db", f"{exported}.db", "db", "import", f"{exported}.zip")
        assert code == read and ("holds control characters" in text) is (read == 3), text
        said(monkeypatch, *db, "db", "check", "--cure")
