"""What the bench refuses, without a browser."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from beadwright.shop.location import find_shop
from beadwright.web.app import create_app
from beadwright.web.guard import Guard

HOME = "http://127.0.0.1:8431"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    app = create_app(find_shop(tmp_path / "shop", environment={}))
    with TestClient(app, base_url=HOME, follow_redirects=False) as opened:
        yield opened


def new_case(client: TestClient, **more: str) -> str:
    reply = client.post("/cases", data={"story": "strings between towers", **more})
    assert reply.status_code == 303
    return reply.headers["location"]


def test_a_name_that_is_not_ours_is_refused(client: TestClient) -> None:
    assert client.get("/", headers={"host": "elsewhere.example"}).status_code == 421
    assert client.get("/", headers={"host": "localhost:1234"}).status_code == 200
    assert client.get("/", headers={"host": "[::1]:8431"}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_change_from_elsewhere_is_refused_and_changes_nothing(client: TestClient, headers: dict[str, str]) -> None:
    assert client.post("/cases", data={"story": "x"}, headers=headers).status_code == 403
    assert "No case is open" in client.get("/").text


def test_every_answer_carries_the_safety_headers(client: TestClient) -> None:
    for path in ("/", "/new", "/nowhere", "/static/answer.js"):
        headers = client.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"


def test_an_oversized_body_is_refused_by_its_length_and_by_its_bytes(tmp_path: Path) -> None:
    app = create_app(find_shop(tmp_path / "shop", environment={}))
    small = Guard(app, most_bytes=2000)
    with TestClient(small, base_url=HOME) as client:
        said = client.post("/cases", files={"files": ("a.txt", b"x" * 5000)})
        assert said.status_code == 413
        streamed = client.post("/cases", content=(b"y" * 500 for _ in range(10)),
                               headers={"content-type": "multipart/form-data; boundary=z"})  # fmt: skip
        assert streamed.status_code in (400, 413)
        assert "No case is open" in client.get("/").text


def test_an_exhibit_is_handed_out_so_that_it_cannot_run(client: TestClient) -> None:
    page = b"<html><script>alert(1)</script></html>"
    reply = client.post("/cases", data={"story": "x"}, files={"files": ("evil.html", page, "text/html")})
    case = client.get(reply.headers["location"] + ".json").json()
    assert case["case"]["exhibit"][0]["file"] == "evil.html"
    import hashlib

    got = client.get(f"{reply.headers['location']}/exhibits/{hashlib.sha256(page).hexdigest()}")
    assert got.content == page
    assert got.headers["content-type"] == "application/octet-stream"
    assert got.headers["content-disposition"].startswith("attachment")
    assert "sandbox" in got.headers["content-security-policy"]


def test_a_case_has_a_json_twin_and_problems_have_one_shape(client: TestClient) -> None:
    case = new_case(client, material="PETG")
    twin = client.get(f"{case}.json").json()
    assert twin["format"] == "beadwright.case/1"
    assert twin["diagnosis"]["format"] == "beadwright.diagnosis/1"
    missing = client.get("/cases/999.json")
    assert missing.status_code == 404
    assert missing.headers["content-type"] == "application/problem+json"
    assert set(missing.json()) == {"type", "title", "status"}


@pytest.mark.parametrize(
    ("path", "data", "status"),
    [
        ("answers", {"check": "no_such_check", "result": "yes"}, 404),
        ("answers", {"check": "", "result": "yes"}, 404),
        ("signs", {"sign": "stringing' OR 1=1 --", "present": "yes"}, 404),
        ("outcome", {}, 400),
        ("outcome", {"cause": "no_such_cause"}, 404),
        ("reopen", {}, 400),
        ("undo", {}, 400),
    ],
)
def test_wrong_forms_get_a_sentence_and_change_nothing(
    client: TestClient, path: str, data: dict[str, str], status: int
) -> None:
    case = new_case(client)
    before = client.get(f"{case}.json").json()
    reply = client.post(f"{case}/{path}", data=data)
    assert reply.status_code == status
    assert "<h1>" in reply.text
    assert client.get(f"{case}.json").json() == before


def test_a_stale_form_is_told_so(client: TestClient) -> None:
    case = new_case(client)
    revision = client.get(f"{case}.json").json()["revision"]
    assert (
        client.post(f"{case}/signs", data={"sign": "stringing", "present": "yes", "revision": revision}).status_code
        == 303
    )
    stale = client.post(f"{case}/signs", data={"sign": "blobs", "present": "yes", "revision": revision})
    assert stale.status_code == 409


def test_an_empty_or_wrong_new_case_keeps_what_was_typed(client: TestClient) -> None:
    assert client.post("/cases", data={"story": "  "}).status_code == 422
    reply = client.post("/cases", data={"story": "my long story", "material": "unobtainium"})
    assert reply.status_code == 422
    assert "my long story" in reply.text
    assert "unobtainium" in reply.text


def test_a_read_only_bench_changes_nothing(tmp_path: Path) -> None:
    app = create_app(find_shop(tmp_path / "shop", environment={}), read_only=True)
    with TestClient(app, base_url=HOME) as client:
        assert client.post("/cases", data={"story": "x"}).status_code in (404, 405)
        assert client.get("/").status_code == 200
