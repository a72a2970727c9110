"""The page in a real Chromium: the whole job, scripts on and off, by keys alone, and no fault of access."""

import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from shopquote.page.app import create_app
from shopquote.page.server import run_until_closed
from shopquote.services.jobs.jobs import load_job
from shopquote.services.quotes.quotes_on_file import stored_quote
from tests.page.conftest import Clock

selenium = pytest.importorskip("selenium", reason="selenium is not installed")
from selenium import webdriver  # noqa: E402
from selenium.webdriver.chrome.service import Service  # noqa: E402
from selenium.webdriver.common.by import By  # noqa: E402
from selenium.webdriver.common.keys import Keys  # noqa: E402

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DRIVER = shutil.which("chromedriver")
pytestmark = pytest.mark.skipif(
    not (CHROMIUM and DRIVER),
    reason="Chromium and its driver are not installed: apt-get install chromium chromium-driver",
)
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]
WAIT_SECONDS = 30.0


class Window:
    """A Chromium window on the page."""

    def __init__(self, driver: Any, home: str) -> None:
        self.driver, self.home = driver, home

    def go(self, path: str) -> None:
        self.driver.get(self.home + path)

    def one(self, css: str) -> Any:
        return self.driver.find_element(By.CSS_SELECTOR, css)

    def all(self, css: str) -> list[Any]:
        return self.driver.find_elements(By.CSS_SELECTOR, css)

    def fill(self, css: str, text: str) -> None:
        field = self.until(lambda: self.one(css))  # a page that was asked for may still be on its way
        field.clear()
        field.send_keys(text)

    def until(self, true: Callable[[], Any]) -> Any:
        """Wait for something that the page does by itself; what is asked is asked again, never timed."""
        for _ in range(round(WAIT_SECONDS / 0.05)):
            try:
                if found := true():
                    return found
            except Exception:
                pass
            time.sleep(0.05)
        raise AssertionError(f"it did not come: {self.one('main').text[:600]}")

    def press(self, css: str) -> None:
        self.driver.execute_script("arguments[0].click()", self.one(css))

    def size(self, wide: int, high: int, dark: bool = False) -> None:
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})
        metrics = {"width": wide, "height": high, "deviceScaleFactor": 1, "mobile": False}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)

    def faults(self) -> list[Any]:
        """What the accessibility checker says of the page as it stands."""
        import axe_core_python

        self.driver.execute_script(
            (Path(axe_core_python.__path__[0]) / "axe.min.js").read_text(encoding="utf-8")
        )
        return self.driver.execute_async_script(
            "const done = arguments[1]; axe.run({runOnly: arguments[0], resultTypes: ['violations']}).then("
            "r => done(r.violations.map(v => [v.id, v.nodes[0].html.slice(0, 120)])))",
            RULES,
        )


def open_window(home: str, *, scripts: bool = True) -> Any:
    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for word in ("--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"):
        options.add_argument(word)
    if not scripts:
        options.add_experimental_option("prefs", {"profile.managed_default_content_settings.javascript": 2})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    driver.set_script_timeout(180)
    return driver


@contextmanager
def serving(database: Any, clock: Clock) -> Iterator[tuple[Any, str]]:
    """The page of a database on a free port: the application and its address."""
    from waitress.server import create_server

    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    listener.listen(64)
    host = f"127.0.0.1:{listener.getsockname()[1]}"
    app = create_app(database, hosts=frozenset({host}), now=clock, url=str(database.url.database))
    server = create_server(app, sockets=[listener], threads=4)
    thread = threading.Thread(target=run_until_closed, args=(server,), daemon=True)
    thread.start()
    yield app, f"http://{host}"
    server.close()
    thread.join(10)
    server.task_dispatcher.shutdown()


@contextmanager
def looking_at(app: Any, home: str) -> Iterator[Window]:
    """A window that is let in; what its console says is no fault."""
    driver = open_window(home)
    found = Window(driver, home)
    found.go(f"/in?word={app.extensions['guard'].codes.word}")
    yield found
    severe = [
        entry
        for entry in driver.get_log("browser")
        if entry["level"] == "SEVERE" and "422" not in entry["message"]
    ]
    driver.quit()
    assert not severe


@pytest.fixture
def served(shop: Any, clock: Clock) -> Iterator[tuple[Any, str]]:
    with serving(shop, clock) as (app, home):
        yield app, home


@pytest.fixture
def window(served: tuple[Any, str]) -> Iterator[Window]:
    with looking_at(*served) as found:
        yield found


@pytest.fixture
def first_window(database: Any, clock: Clock) -> Iterator[Window]:
    """A window on a database in which no shop was ever set up."""
    with serving(database, clock) as (app, home), looking_at(app, home) as found:
        yield found


@pytest.fixture
def plain_window(served: tuple[Any, str]) -> Iterator[Window]:
    """A window with scripts off."""
    app, home = served
    driver = open_window(home, scripts=False)
    found = Window(driver, home)
    found.go(f"/in?word={app.extensions['guard'].codes.word}")
    yield found
    driver.quit()


# What a shop of its own puts on file before it can price a hook.
OWN = {
    "suppliers": {"name": "Fenwick Bars"},
    "stock": {"supplier": "Fenwick Bars", "bar": "flat 40 x 6", "grade": "S275", "length": "6000",
              "price": "21.40", "basis": "bar", "valid_from": "2026-03-02"},
    "benders": {"name": "bench bender", "largest_moment_nm": "620", "opening": "25", "width": "60",
                "lever": "1000", "formers": "36", "largest_angle": "180"},
}  # fmt: skip


def type_a_hook(window: Window) -> None:
    window.fill("[name=job-0-title]", "Coat hooks")
    window.fill("[name=job-0-customer]", "Dovecote Bakery")
    window.fill("[name=job-0-sets]", "12")
    window.fill("[name=part-0-bar]", "flat 40 x 6")
    window.driver.execute_script("document.querySelector('[name=part-0-grade]').value = 'S275'")
    window.fill("[name=part-0-shape]", "leg 250; bend 90 r 36; leg 300")


def test_the_whole_job_from_a_new_shop_to_the_review(first_window, database):
    window = first_window
    window.size(1280, 900)
    assert "A new shop" in window.one("h1").text
    window.fill("[name=name]", "Ford Forge")
    window.press("#start-own")
    window.press("form .main")
    window.until(lambda: "The rates that matter" in window.one("h1").text)
    window.fill("[name=r0]", "24")
    window.press("button[value=try]")
    window.until(lambda: "before:" in window.one("#moved").text)
    window.press("button[value=keep]")
    window.until(lambda: "Kept. The sample:" in window.one(".said").text)
    for name, fields in OWN.items():
        window.go(f"/shop/{name}")
        for column, text in fields.items():
            window.fill(f"[name=c-{column}]", text)
        window.press("[name=do][value=set]")
        window.until(lambda: "Added." in window.one(".said").text)
    window.go("/")
    window.press("a[accesskey=n]")
    window.until(lambda: window.one("#price"))
    type_a_hook(window)
    price = window.until(lambda: "12 sets" in window.one("#total").text and window.one("#unit").text)
    assert window.until(lambda: window.one("#see-0 svg"))
    window.until(lambda: "Draft saved" in window.one("#kept").text)
    window.one("[name=part-0-shape]").send_keys("; nonsense")
    window.until(lambda: "nonsense" in window.one("#f-part-0-shape").text)
    assert window.one("#unit").text == "–"
    window.fill("[name=part-0-shape]", "leg 250; bend 90 r 36; leg 300")
    window.until(lambda: window.one("#unit").text == price)
    window.press("button[value=quote]")
    window.until(lambda: "/quote/J-0001" in window.driver.current_url)
    assert window.one("#unit").text == price
    window.press("button[value=accepted]")
    window.until(lambda: "accepted" in window.one(".said").text)
    window.go("/bars?job=J-0001")
    window.until(lambda: window.one("form[action='/bars/order'] .main"))
    window.press("form[action='/bars/order'] .main")
    window.until(lambda: "/order/" in window.driver.current_url)
    window.fill("[name=heat-1]", "INV-70413")
    window.press("form[action$='/receive'] .main")
    window.until(lambda: "On the rack" in window.one(".said").text)
    window.size(390, 844)
    window.go("/f/")
    window.fill("[name=person]", "Wyn")
    window.press("form .main")
    window.until(lambda: window.one("[name=code]"))
    window.fill("[name=code]", "J-0001/A")
    window.one("[name=code]").send_keys(Keys.ENTER)
    window.until(lambda: window.one(".dock .main"))
    window.press(".dock .main")
    window.until(lambda: window.driver.current_url.endswith("/f/work") and window.one("#clock"))
    window.press("[aria-label='Spoilt: one more']")
    assert not window.driver.find_elements(By.CSS_SELECTOR, "[name=reason]:checked")
    window.press("label[for=r3]")
    window.fill("[name=good]", "five")
    window.press(".stop")
    # What cannot be counted says so where it was entered, and what was typed stays.
    window.until(lambda: "J-0001, not counted: " in window.one(".refused").text)
    assert window.driver.current_url.endswith("/f/work") and window.one("#clock")
    window.fill("[name=good]", "11")
    window.press(".stop")
    window.until(lambda: "11 x A good; 1 x A scrapped" in window.one(".lines").text)
    assert window.one(".refused").text == ""
    window.go("/quote/J-0001")
    window.press("[action$='/deliver'] button")
    window.until(lambda: "Delivery J-0001-1 is on file" in window.one(".said").text)
    window.press("button[value=finished]")
    window.until(lambda: "finished" in window.one(".said").text)
    window.press("a[href$='/close']")
    assert "count as quoted" in window.until(lambda: window.one("main").text)
    window.press("main .main")
    window.until(lambda: "closed" in window.one(".said").text)
    window.go("/load#main")
    window.fill("[name=hours]", "8")
    window.press("main button")
    window.until(lambda: "hours=8" in window.driver.current_url and window.one("#first-day"))
    window.go("/review")
    assert "Coat hooks" in window.until(lambda: window.one("main").text)
    with database.reading() as session:
        assert load_job(session, "J-0001").job.state == "closed"


def test_it_is_done_by_keys_alone(window):
    window.go("/price/new")
    window.until(lambda: window.one("#price"))
    window.one("[name=job-0-title]").send_keys("Hook", Keys.TAB, "Orla", Keys.TAB, Keys.CONTROL, "a")
    type_a_hook(window)
    window.one("[name=part-0-shape]").send_keys(Keys.ENTER)
    window.until(lambda: len(window.all("[data-row=part]")) == 2)
    focused = window.driver.switch_to.active_element
    assert focused.get_attribute("name").endswith("-name")
    marks = [field.get_attribute("value") for field in window.all("[data-row=part] [name$='-mark']")]
    assert marks == ["A", "B"]
    window.one("[name=part-0-shape]").send_keys(Keys.CONTROL, Keys.ENTER)
    window.until(lambda: "/quote/J-0001" in window.driver.current_url)


def test_buttons_and_the_pad_write_the_words(window):
    window.go("/price/new")
    window.until(lambda: window.one("[data-step=bend]"))
    window.press("[data-step=bend]")
    assert window.one("[name=part-0-shape]").get_attribute("value").startswith("leg 100; bend 90 r ")
    window.press("[data-step=leg]")
    made = window.one("[name=part-0-shape]").get_attribute("value").split("; ")
    assert [word.split()[0] for word in made] == ["leg", "bend", "leg"]
    window.fill("[name=part-0-shape]", "")
    window.press(".pad-open")
    pad = window.until(lambda: window.one(".pad"))
    pad.send_keys(Keys.ENTER)
    for _ in range(6):
        pad.send_keys(Keys.ARROW_LEFT)
    pad.send_keys(Keys.ENTER)
    words = window.one("[name=part-0-shape]").get_attribute("value")
    assert words.startswith("leg 100; bend 90 r ") and words.endswith("leg 100")
    assert window.driver.find_elements(By.CSS_SELECTOR, ".steps input")


def test_entries_wait_in_the_phone_while_the_line_is_cut(window, shop, clock):
    window.go("/price/new")
    window.until(lambda: window.one("#price"))
    type_a_hook(window)
    window.until(lambda: "12 sets" in window.one("#total").text)
    window.press("button[value=quote]")
    window.until(lambda: "/quote/" in window.driver.current_url)
    window.press("button[value=accepted]")
    window.until(lambda: "accepted" in window.one(".head").text)
    window.go("/f/")
    window.fill("[name=person]", "Wyn")
    window.press("form .main")
    window.until(lambda: window.one("[name=code]"))
    window.go("/f/job/J-0001/A")
    window.until(lambda: window.one(".dock .main"))
    cut = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
    window.driver.execute_cdp_cmd("Network.enable", {})
    window.driver.execute_cdp_cmd("Network.emulateNetworkConditions", cut)
    window.press(".dock .main")
    window.until(lambda: "1 entry waits" in window.one(".waits").text)
    window.press(".dock .main")
    assert "1 entry waits" in window.one(".waits").text
    on = {"offline": False, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}
    window.driver.execute_cdp_cmd("Network.emulateNetworkConditions", on)
    window.until(lambda: window.one(".waits").text == "")
    window.go("/f/work")
    assert window.one("#clock")
    window.driver.get_log("browser")  # the cut line is in it


def test_everything_is_done_without_scripts(plain_window, shop):
    window = plain_window
    window.size(1280, 1600)
    window.go("/price/new")
    window.fill("[name=job-0-title]", "Coat hooks")
    window.fill("[name=job-0-customer]", "Dovecote Bakery")
    window.fill("[name=part-0-bar]", "round 10")
    window.fill("[name=part-0-shape]", "leg 100; bend 90 r 20; leg 60")
    window.one("button.no-script[value=price]").click()
    assert "1 set" in window.one("#total").text and window.one("#see-0 svg")
    window.one("button[value=add-holes-0]").click()
    window.fill("[name=holes-0-dia]", "6")
    window.one("button[value=quote]").click()
    assert "/quote/J-0001" in window.driver.current_url
    window.one("button[value=accepted]").click()
    window.until(lambda: "accepted" in window.one(".head").text)
    window.go("/f/")
    window.until(lambda: window.one("[name=person]"))
    window.fill("[name=person]", "Wyn")
    window.one("form:last-of-type .main").click()
    window.until(lambda: window.one("[name=code]"))
    window.go("/f/job/J-0001/A")
    window.one(".dock .main").click()
    window.until(lambda: window.driver.current_url.endswith("/f/work"))
    window.one(".stop").click()
    window.until(lambda: "min" in window.one(".lines").text)
    with shop.reading() as session:
        assert stored_quote(session, "J-0001").priced.net > 0


def test_the_accessibility_checker_finds_no_fault_on_any_page_or_size(window):
    window.go("/price/new")
    window.until(lambda: window.one("#price"))
    type_a_hook(window)
    window.until(lambda: "12 sets" in window.one("#total").text)
    window.press("button[value=quote]")
    window.until(lambda: "/quote/" in window.driver.current_url)
    window.press("button[value=accepted]")
    window.until(lambda: "accepted" in window.one(".head").text)
    window.go("/f/")
    window.until(lambda: window.one("[name=person]"))
    window.fill("[name=person]", "Wyn")
    window.press("form .main")
    window.until(lambda: window.one("[name=code]"))
    office = (
        "/", "/price/new", "/quote/J-0001", "/bars?job=J-0001", "/rack", "/review", "/shop", "/shop/benders",
        "/shop/details", "/shop/first", "/shop/prices", "/load", "/logged/J-0001",
        "/joint/new?customer=Dovecote+Lane+Bakery",
        "/devices",
    )  # fmt: skip
    floor = ("/f/", "/f/job/J-0001", "/f/job/J-0001/A", "/f/work", "/f/today", "/code")
    told = []
    for wide, dark in ((1280, False), (390, True)):
        window.size(wide, 900, dark)
        for path in (*office, *floor):
            window.go(path)
            window.until(lambda: window.one("main"))
            told += [(path, wide, fault) for fault in window.faults()]
            over = window.driver.execute_script("return document.documentElement.scrollWidth - innerWidth")
            told += [(path, wide, "wider than the screen")] if over > 0 else []
            if path in floor:
                told += [(path, wide, small) for small in window.driver.execute_script(SMALL)]
    assert not told


# A CSS millimetre is shorter on a phone: 390 px are about 65 mm, so 12 mm are 76 px.
SMALL = """return [...document.querySelectorAll(
  'button, a.button, nav a, input:not([type=hidden],[type=radio],[type=file]), select, .pick label')]
  .filter(e => e.offsetParent && e.getBoundingClientRect().height < 76).map(e => e.outerHTML.slice(0, 80))"""
