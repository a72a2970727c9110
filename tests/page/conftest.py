"""The page over a set-up shop: `desk_app` the application, `office` and `floor` browsers that are let in."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from shopquote.page.app import create_app

HOST = "127.0.0.1:8765"
HOME = f"http://{HOST}"
MORNING = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


@dataclass
class Clock:
    """A clock that a test moves."""

    time: datetime = MORNING

    def __call__(self) -> datetime:
        return self.time


class Browser:
    """A test client that has a cookie, says its origin and fills in the form's token as our pages do."""

    def __init__(self, app: Flask) -> None:
        self.app = app
        self.client: FlaskClient = app.test_client()
        self.token = ""

    def get(self, path: str, **more: Any) -> TestResponse:
        return self.client.get(path, base_url=HOME, **more)

    def post(self, path: str, data: Any = None, **more: Any) -> TestResponse:
        headers = {"Origin": HOME, "X-Form-Token": self.token, **more.pop("headers", {})}
        return self.client.post(path, base_url=HOME, data=data, headers=headers, **more)

    def let_in(self, role: str) -> "Browser":
        code = self.app.extensions["guard"].codes.new_code(role)
        done = self.post("/code", {"code": code, "name": f"{role} test"})
        assert done.status_code == 302, done.text
        page = self.get("/devices" if role == "office" else "/f/").text
        self.token = page.split('name="form-token" content="')[1].split('"')[0]
        return self


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def make_app(clock: Clock) -> Callable[[Any], Flask]:
    def make(database: Any) -> Flask:
        app = create_app(
            database, hosts=frozenset({HOST, "localhost:8765"}), now=clock, url=str(database.url.database)
        )
        app.config["TESTING"] = False
        app.config["PROPAGATE_EXCEPTIONS"] = False
        return app

    return make


@pytest.fixture
def desk_app(shop: Any, make_app: Callable[[Any], Flask]) -> Flask:
    return make_app(shop)


@pytest.fixture
def office(desk_app: Flask) -> Browser:
    return Browser(desk_app).let_in("office")


@pytest.fixture
def floor(desk_app: Flask) -> Browser:
    return Browser(desk_app).let_in("floor")
