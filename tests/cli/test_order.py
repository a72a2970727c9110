"""Buying and the rack from the command line."""

import json
import os
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.records.people import Supplier
from shopquote.services.shop.shop_on_file import the_shop
from tests.sheets import fill

JOB = """
format = 1
[job]
title = "{title}"
customer = "Orla Fennimore"
sets = 2
units = "mm"
[[part]]
mark = "A"
name = "rod"
per_set = 4
bar = "round 12"
grade = "S275"
length = {length}
"""


@pytest.fixture
def run(shop):
    def invoke(*words: str):
        result = CliRunner().invoke(app, ["--db", shop.name, *words])
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        return result

    return invoke


@pytest.fixture
def jobs(run, tmp_path) -> Path:
    for title, length in (("hooks", 1900), ("gate", 2850)):
        path = tmp_path / f"{title}.toml"
        path.write_text(JOB.format(title=title, length=length), encoding="utf-8")
        said(run("job", "add", str(path), "--json"))
    return tmp_path


def said(result):
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def test_order_answers_with_the_keys_that_others_read(run, jobs):
    answer = said(run("order", "J-0001", "--json", "--out", str(jobs / "out")))
    (order,) = answer["orders"]
    assert {"number", "supplier", "lines", "total"} <= set(order)
    (line,) = order["lines"]
    assert {"bar", "grade", "length_mm", "count", "unit_price", "amount"} <= set(line)
    assert (order["number"], line["bar"], line["grade"], line["length_mm"]) == (
        "O-0001",
        "round 12",
        "S275",
        6000,
    )
    assert len(line["amount"].split(".")[1]) == 2
    assert answer["from_rack"] == [] and answer["proven"] is True
    assert all(Path(path).is_file() for path in answer["files"]) and len(answer["files"]) == 4
    assert answer["warnings"] == [
        "job J-0001 is only asked; bar is bought that the customer has not accepted yet."
    ]


def test_rack_pieces_are_named_with_their_job(run, jobs):
    run("rack", "add", "round 12", "S275", "6000", "--count", "5", "--place", "A1")
    answer = said(run("order", "1", "--json", "--out", str(jobs)))
    assert answer["orders"] == [] and answer["files"] == []
    assert {(pick["length_mm"], pick["job"]) for pick in answer["from_rack"]} == {(6000, "J-0001")}
    assert {pick["piece"] for pick in answer["from_rack"]} <= {f"R-000{n}" for n in range(1, 6)}


def test_words_without_a_command_are_jobs_and_options_may_come_first(run, jobs):
    shown = run("order", "--out", str(jobs), "J-0001", "J-0002")
    assert shown.exit_code == 0, shown.stderr
    assert "Order O-0001" in shown.stdout and "saves" in shown.stdout and "Share of each job" in shown.stdout
    assert [order["jobs"] for order in said(run("order", "list", "--json"))["orders"]] == ["J-0001, J-0002"]


@pytest.mark.parametrize(
    "words, code",
    [
        (("order", "J-0099"), 4),
        (("order", "J-0001", "--certificate", "9"), 3),
        (("order", "J-0001", "--supplier", "Nobody"), 4),
        (("order", "J-0001", "--nonsense"), 2),
        (("order", "show", "O-0009"), 4),
        (("order", "change", "O-0001"), 3),
        (("order", "change", "O-0001", "--count", "x"), 3),
        (("receive", "O-0009"), 4),
        (("rack", "use", "R-0001", "--job", "J-0001"), 4),
        (("rack", "trace"), 3),
        (("rack", "trace", "--heat", "H1"), 4),
        (("rack", "list", "--state", "fre"), 3),
        (("rack", "add", "rond 12", "S275", "1000"), 3),
        (("rack", "add", "round 12", "S275", "1000", "--cost", "x"), 3),
        (("rack", "import", "nothing.csv"), 3),
        (("rack", "release"), 3),
    ],
)
def test_wrong_words_end_with_their_code_and_one_message(run, jobs, words, code):
    result = run(*words)
    assert result.exit_code == code, result.stderr
    assert result.stderr.strip() and "Traceback" not in result.stderr


def test_a_line_on_file_has_every_figure_of_the_order_with_what_has_come(run, jobs):
    (placed,) = said(run("order", "J-0001", "--json", "--out", str(jobs)))["orders"]
    run("receive", "O-0001", "--line", "1", "--count", "1")
    (shown,) = said(run("order", "show", "O-0001", "--json"))["lines"]
    (printed,) = placed["lines"]
    assert shown == {**printed, "line": 1, "received": 1} and printed["mass_kg"]
    text = run("order", "show", "O-0001").stdout
    assert {"Line", "Bar", "Count", "Received", "Mass kg", "Each", "Amount"} <= {
        word.strip() for row in text.splitlines() for word in row.split("  ")
    }


def test_from_order_to_trace(run, jobs):
    run("order", "J-0001", "--out", str(jobs), "--certificate", "3.1")
    (jobs / "c.pdf").write_bytes(b"certificate")
    received = said(
        run("receive", "O-0001", "--line", "1", "--count", "1", "--heat", "H7", "--place", "A1", "--json",
            "--certificate", str(jobs / "c.pdf"))
    )  # fmt: skip
    assert (received["state"], received["lines"][0]["short"] > 0) == ("part received", True)
    assert said(run("receive", "O-0001", "--json"))["state"] == "received"
    assert run("receive", "O-0001").exit_code == 3
    used = said(run("rack", "use", "r-0001", "--job", "1", "--back", "150", "--json"))
    assert len(used["returned"]) == 1
    trace = said(run("rack", "trace", "--job", "1", "--json"))
    first = trace["pieces"][0]
    assert (first["heat"], first["certificate"], first["order"]) == ("H7", "c.pdf", "O-0001")
    assert said(run("rack", "trace", "--heat", "H7", "--json"))["jobs"] == ["J-0001"]
    shown = run("rack", "trace", "--piece", used["returned"][0])
    assert shown.exit_code == 0 and "R-0001" in shown.stdout
    assert run("db", "check").exit_code == 0


def test_goods_in_sheet_goes_out_and_comes_back(run, jobs):
    run("order", "J-0001", "--out", str(jobs))
    (path,) = said(run("receive", "1", "--blank", str(jobs), "--json"))["files"]
    book = load_workbook(path)
    sheet = book.worksheets[0]
    fill(sheet, {"line": 1}, count=2, length="6050", heat="H9", **{"charged each": 7.5})
    book.save(path)
    received = said(run("receive", "1", "--from", path, "--new-prices", "--delivery", "0", "--json"))
    assert [(piece["length_mm"], piece["heat"], piece["cost"]) for piece in received["pieces"]] == [
        (6050, "H9", "7.50")
    ] * 2


def test_request_for_prices_becomes_an_order(run, jobs):
    asked = said(run("order", "J-0001", "--ask", "--json", "--out", str(jobs)))
    assert asked["orders"][0]["lines"][0]["unit_price"] is None and asked["warnings"] == []
    placed = said(run("order", "place", "1", "--price", "1=6.25", "--json", "--out", str(jobs)))
    assert (placed["state"], placed["revision"], placed["lines"][0]["unit_price"]) == ("placed", 2, "6.25")
    assert said(run("order", "show", "1", "--revision", "1", "--json"))["state"] == "replaced"
    assert said(run("order", "cancel", "1", "--reason", "late", "--json"))["state"] == "cancelled"


def test_changed_order_is_a_revision(run, jobs):
    run("order", "J-0001", "--out", str(jobs))
    changed = said(run("order", "change", "1", "--count", "1=9", "--json", "--out", str(jobs)))
    assert (changed["revision"], changed["lines"][0]["count"]) == (2, 9)


def test_a_supplier_abroad_is_paid_in_its_own_currency_at_every_door(run, jobs):
    """Its own sign was refused, and the shop's was taken for so many of the supplier's."""
    bar = ("stock", "set", "far yard", "round 12", "S275", "6 m", "basis=bar")
    doors = [
        ("suppliers", "set", "Far Yard", "currency=USD", "exchange_rate=0.5", "delivery_charge={}12"),
        ("suppliers", "set", "far yard", "delivery_charge={}10"),
        (*bar, "price={}7.50"),
        ("order", "J-0001", "--supplier", "Far Yard", "--out", str(jobs)),
        ("order", "change", "1", "--price", "1={}8/bar", "--out", str(jobs)),
        ("receive", "1", "--line", "1", "--count", "1", "--charged", "{}9", "--delivery", "{}4"),
        ("order", "cancel", "1", "--delivery", "{}6"),
    ]
    for words in doors:
        if any("{}" in word for word in words):
            refused = run(*(word.format("€") for word in words))
            assert refused.exit_code == 3 and "an amount in USD, not in €" in refused.stderr, words
        said(run(*(word.format("$") for word in words), "--json"))
    # 9 and 6 dollars, at half a euro each.
    (piece,) = said(run("rack", "list", "--json"))["pieces"]
    assert float(piece["cost"]) == 7.5


def test_fewer_bars_say_which_job_lacks_them(run, jobs):
    run("order", "J-0001", "--out", str(jobs))
    fewer = said(run("order", "change", "1", "--count", "1=1", "--json", "--out", str(jobs)))
    assert fewer["lacking"] == [{"bar": "round 12 S275", "jobs": ["J-0001"]}]
    told = run("order", "cancel", "1")
    assert "J-0001 now lacks round 12 S275; buy it with: shopquote order J-0001" in told.stdout


def test_rack_commands_read_and_write(run, jobs):
    run(
        "rack",
        "add",
        "round 12",
        "S275",
        "1450",
        "--count",
        "2",
        "--heat",
        "H1",
        "--place",
        "A1",
        "--cost",
        "3",
    )
    run("rack", "add", "round 12", "S275", "80")
    assert len(said(run("rack", "list", "--bar", "round 12", "--json"))["pieces"]) == 3
    assert [p["piece"] for p in said(run("rack", "spare", "--shorter", "100", "--json"))["pieces"]] == [
        "R-0003"
    ]
    assert said(run("rack", "scrap", "R-0003", "--reason", "short", "--json")) == {"scrapped": ["R-0003"]}
    promised = said(run("rack", "promise", "R-0001", "R-0002", "--job", "1", "--json"))
    assert {piece["job"] for piece in promised["pieces"]} == {"J-0001"}
    assert said(run("rack", "release", "--job", "1", "--json"))["released"] == ["R-0001", "R-0002"]
    assert said(run("rack", "move", "R-0001", "--place", "B2", "--json"))["moved"] == ["R-0001"]
    assert said(run("rack", "value", "--json"))["total"] == "6.00"
    labels = said(run("rack", "labels", "--out", str(jobs), "--json"))["files"]
    assert [Path(label).suffix for label in labels] == [".xlsx", ".pdf"]
    assert all(Path(label).is_file() for label in labels)
    out = jobs / "rack.csv"
    assert said(run("rack", "export", str(out), "--json"))["pieces"] == 2
    text = out.read_text(encoding="utf-8").replace("R-0001", "").replace("R-0002", "")
    out.write_text(text, encoding="utf-8")
    assert len(said(run("rack", "import", str(out), "--json"))["pieces"]) == 2
    used = said(run("rack", "use", "R-0001", "--job", "1", "--json"))
    assert used["returned"] == []
    assert said(run("rack", "return", "R-0001", "200", "--json"))["piece"] == "R-0006"
    assert run("rack", "use", "R-0002", "--job", "1", "--kind", "wrok").exit_code == 3
    for words in (("rack", "list"), ("rack", "value"), ("rack", "spare"), ("order", "list")):
        assert run(*words).exit_code == 0


def test_what_was_sawn_is_scanned_in(run, shop, jobs):
    run("rack", "add", "round 12", "S275", "3000", "--count", "3", "--place", "A1")
    run("rack", "promise", "R-0001", "R-0002", "--job", "J-0001")
    kept = jobs / "scans.txt"
    kept.write_text("R-0001\n1100\nR-0002\n", encoding="utf-8")
    first, second = said(run("rack", "scan", str(kept), "--json"))["pieces"]
    assert (first["job"], first["piece"], first["returned"]) == ("J-0001", "R-0001", ["R-0004"])
    assert second["returned"] == []
    again = run("rack", "scan", str(kept))
    assert again.exit_code == 3 and "line 1" in again.stderr and "line 3" in again.stderr
    piped = CliRunner().invoke(
        app, ["--db", shop.name, "rack", "scan", "--job", "J-0002"], input="R-0003\n640\n"
    )
    assert "R-0003 sawn for J-0002; back on the rack: R-0005" in piped.stdout
    assert "shopquote rack labels R-0005" in piped.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_pieces_scanned_at_the_terminal_are_entered_one_by_one(run, shop, jobs):
    import pty

    run("rack", "add", "round 12", "S275", "3000", "--count", "2")
    run("rack", "promise", "R-0001", "R-0002", "--job", "J-0001")
    keys, terminal = pty.openpty()
    words = [sys.executable, "-m", "shopquote", "--db", shop.name, "rack", "scan"]
    scanning = subprocess.Popen(words, stdin=terminal, stdout=subprocess.PIPE, text=True)
    os.write(keys, b"R-0001\n1100\nR-0001\nR-0002\n\n\n")
    told, _ = scanning.communicate(timeout=60)
    os.close(keys)
    os.close(terminal)
    assert scanning.returncode == 0
    assert told.splitlines()[1:] == [
        "R-0001 sawn for J-0001; back on the rack: R-0003",
        "J-0001 was asked and is now started.",
        "Label what came back: shopquote rack labels R-0003",
        "Not entered: Piece R-0001 was used for job J-0001.",
        "R-0002 sawn for J-0001",
    ]


def test_request_for_prices_has_no_total(run, jobs):
    (asked,) = said(run("order", "J-0001", "--ask", "--json", "--out", str(jobs)))["orders"]
    assert (asked["goods"], asked["delivery"], asked["total"]) == (None, None, None)
    assert said(run("order", "list", "--json"))["orders"][0]["total"] is None
    assert said(run("order", "show", "1", "--json"))["total"] is None


def test_stocktake_goes_out_and_comes_back(run, jobs):
    run("rack", "add", "round 12", "S275", "1450", "--count", "2")
    path, paper = said(run("rack", "count", "--out", str(jobs), "--json"))["files"]
    assert Path(paper).read_bytes().startswith(b"%PDF")
    book = load_workbook(path)
    sheet = book.worksheets[0]
    fill(sheet, {"found": None}, found="1450")
    fill(sheet, {"found": None}, found="0")
    book.save(path)
    result = said(run("rack", "count", path, "--json"))
    assert result["agreed"] == 1 and [d["kind"] for d in result["differences"]] == ["missing"]
    assert run("db", "check").exit_code == 0


def test_price_list_with_its_own_columns(run, jobs):
    path = jobs / "list.csv"
    path.write_text("What,Quality,Bar,Each\nround 12,S275,6 m,7.77\n", encoding="utf-8")
    supplier = said(run("suppliers", "list", "--json"))["suppliers"][0]["name"]
    words = ("order", "prices", supplier, str(path), "--column", "bar=What", "--column", "length=Bar",
             "--column", "price=Each", "--column", "basis==bar", "--json")  # fmt: skip
    assert said(run(*words, "--preview"))["stored"] is False
    assert said(run(*words))["changes"][0]["change"] in ("dearer", "cheaper", "changed", "new")
    again = said(run("order", "prices", supplier, str(path), "--json"))
    assert again["changes"][0]["change"] == "same"
    assert run("order", "prices", supplier, str(path), "--column", "basis").exit_code == 3


def test_columns_named_for_a_list_with_mistakes_need_not_be_named_again(run, tmp_path):
    """They were forgotten when a row could not be read; one that is not in the list is not kept."""
    path = tmp_path / "list.csv"
    list_of = "What,Quality,Bar,Each\nround 12,S275,6 m,{}\n"
    path.write_text(list_of.format("dear"), encoding="utf-8")
    said(run("suppliers", "set", "Quay", "--json"))
    words = ["order", "prices", "Quay", str(path)]
    named = ["--column", "bar=What", "--column", "length=Bar", "--column", "basis==bar"]
    strange = run(*words, *named, "--column", "price=Price")
    assert strange.exit_code == 3 and "price=Price" not in strange.stderr
    failed = run(*words, "--column", "price=Each")
    assert failed.exit_code == 3 and "is kept with the supplier: price=Each." in failed.stderr
    path.write_text(list_of.format("9.40"), encoding="utf-8")
    assert said(run(*words, "--json"))["changes"][0]["bar"] == "round 12"


def test_a_list_that_fails_leaves_the_columns_of_the_one_that_was_read(run, tmp_path):
    """Its columns were stored among those of the other list, which could not be read any more."""
    old, new = tmp_path / "old.csv", tmp_path / "new.csv"
    old.write_text("What,Quality,Bar,Each,Unit\nround 12,S275,6 m,9.40,bar\n", encoding="utf-8")
    new.write_text("What,Quality,Bar,Net,Unit\nround 12,S275,6 m,dear,bar\n", encoding="utf-8")
    said(run("suppliers", "set", "Quay", "--json"))
    named = ("--column", "bar=What", "--column", "length=Bar")
    said(run("order", "prices", "Quay", str(old), *named, "--column", "price=Each", "--json"))
    failed = run("order", "prices", "Quay", str(new), *named, "--column", "price=Net", "--means", "43A=S275")
    assert failed.exit_code == 3 and "is kept with the supplier: 43a=S275." in failed.stderr
    assert said(run("order", "prices", "Quay", str(old), "--json"))["changes"][0]["change"] == "same"


def test_words_taught_with_a_list_that_fails_need_not_be_typed_again(run, tmp_path):
    """A meaning that is itself mistyped is not kept, and a preview keeps none."""
    path = tmp_path / "list.csv"
    rows = ["bar,grade,length,price,basis", "RND 12,43A,6000,9.40,bar", "RND 16,43A,6000,{},bar"]
    path.write_text("\n".join(rows).format("dear"), encoding="utf-8")
    said(run("suppliers", "set", "Quay", "--json"))
    words = ["order", "prices", "Quay", str(path)]
    assert "are kept" not in run(*words, "--means", "RND=round", "--preview").stderr
    for typed, kept in (("RND=rouund", "43a=S275."), ("RND=round", "rnd=round, 43a=S275.")):
        failed = run(*words, "--means", typed, "--means", "43A=S275")
        assert failed.exit_code == 3
        assert f"Only what you named is kept with the supplier: {kept}" in failed.stderr
    path.write_text("\n".join(rows).format("16.60"), encoding="utf-8")
    read = said(run(*words, "--json"))
    assert [row["bar"] for row in read["changes"]] == ["round 12", "round 16"]


# Digits of ISO 4217: the yen has none, the dinar of Kuwait three.
@pytest.mark.parametrize(("currency", "digits"), [("JPY", 0), ("KWD", 3)])
def test_money_of_orders_and_of_the_rack_has_the_digits_of_the_shops_currency(
    run, shop, jobs, currency, digits
):
    with shop.session() as session:
        the_shop(session).currency = currency
        for supplier in session.query(Supplier):
            supplier.currency = currency
    answer = said(run("order", "J-0001", "J-0002", "--json", "--out", str(jobs / "out")))
    amounts = [answer[key] for key in ("cost", "bound", "cuts_gap", "saving")]
    amounts += [share["share"] for share in answer["shares"]] + [one["cost"] for one in answer["apart"]]
    worth = said(run("receive", "O-0001", "--json"))
    value = said(run("rack", "value", "--json"))
    amounts += [value["total"], *(row["cost"] for row in value["rack"])]
    assert {len(amount.partition(".")[2]) for amount in amounts} == {digits}
    exact = sum(Decimal(piece["cost"]) for piece in worth["pieces"])
    assert (
        Decimal(answer["orders"][0]["total"]) == Decimal(answer["cost"]) == exact == Decimal(value["total"])
    )
    first, *_ = worth["pieces"]
    one = f"{Decimal(first['cost']):.{digits}f}"
    told = run("rack", "list").stdout + run("rack", "use", first["piece"], "--job", first["job"]).stdout
    assert f" {one}\n" in told and f"cost to {first['job']} {one}\n" in told
    assert f"cost {exact:.{digits}f}\n" in told


PRICES = {"round 12": 61, "round 10": 62, "square 10": 63, "square 12": 64}
# 6 m of them have 3.699, 5.327, 4.71 and 6.782 kg at 7850 kg/m3.
UNIT_PRICES = [("0.2294", 3), ("0.3249", 3), ("0.2967", 3), ("0.4341", 3)]


def test_what_bars_are_bought_for_is_what_the_orders_come_to(run, jobs):
    # By the kg a bar costs parts of a cent too, and each line of an order is rounded.
    (jobs / "prices.csv").write_text(
        "supplier,bar,grade,length,price,basis\n"
        + "".join(f"Cheap (invented),{bar},S275,6 m,0.0{price},kg\n" for bar, price in PRICES.items()),
        encoding="utf-8",
    )
    said(run("suppliers", "set", "Cheap (invented)", "--json"))
    said(run("stock", "import", str(jobs / "prices.csv"), "--json"))
    said(run("house", "set", "scrap_pct", "value=0", "--json"))
    parts = "".join(
        f'[[part]]\nmark = "{mark}"\nper_set = 4\nbar = "{bar}"\ngrade = "S275"\nlength = 1900\n'
        for mark, bar in zip("BCD", list(PRICES)[1:], strict=True)
    )
    (jobs / "many.toml").write_text(JOB.format(title="many", length=1900) + parts, encoding="utf-8")
    said(run("job", "add", str(jobs / "many.toml"), "--json"))
    answer = said(run("order", "J-0003", "--json", "--out", str(jobs / "out")))
    (order,) = answer["orders"]
    assert [(line["unit_price"], line["count"]) for line in order["lines"]] == UNIT_PRICES
    lines = [Decimal(line["amount"]) for line in order["lines"]]
    assert sum(Decimal(price) * count for price, count in UNIT_PRICES) == Decimal("3.8553")
    assert answer["cost"] == answer["bound"] == order["total"] == str(sum(lines)) == "3.85"
    assert answer["proven"]
    quoted = said(run("quote", "J-0003", "--json", "--out", str(jobs / "quote")))
    assert quoted["estimate"]["material"] == answer["cost"]
