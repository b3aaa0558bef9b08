"""Who is let in: our own hosts, our own pages, bodies of a sane size."""

import pytest

from monitor.farm import Web
from monitor.web.guard import BODY_AT_MOST, HEADERS, known_hosts
from tests.web.visiting import HERE, Visitor

ACKNOWLEDGE = "/api/alarms/1/acknowledge"
NOBODY = {"by": "x" * 301}  # refused by the form itself, so that a test changes nothing


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "127.0.0.1.elsewhere.example", "", "[::", "localhost:99999999"]
)
def test_a_foreign_host_is_refused(visitor: Visitor, host: str) -> None:
    """A name that resolves to us but is not ours (DNS rebinding) sees nothing."""
    answer = visitor.get("/", headers={"host": host})
    assert answer.status_code == 400
    assert "not one of the farm's" in answer.text


@pytest.mark.parametrize("host", ["localhost:8484", "127.0.0.1", "[::1]:9"])
def test_loopback_is_let_in(visitor: Visitor, host: str) -> None:
    """The computer's own names are answered, whatever the port."""
    assert visitor.get("/help", headers={"host": host}).status_code == 200


def test_configured_hosts_are_known() -> None:
    """The address in farm.toml is ours; listening everywhere names no host."""
    web = Web(host="0.0.0.0", base_url="https://barn.example:8443/x")  # noqa: S104  # the case
    assert "barn.example" in known_hosts(web)
    assert "0.0.0.0" not in known_hosts(web)  # noqa: S104  # the case


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://elsewhere.example"},
        {"origin": "http://127.0.0.1:1"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site", "origin": HERE},
    ],
)
def test_a_foreign_pages_post_is_refused(visitor: Visitor, headers: dict[str, str]) -> None:
    """A post from another page, even on another port of this computer, is refused."""
    answer = visitor.post(ACKNOWLEDGE, json=NOBODY, headers=headers)
    assert answer.status_code == 400
    assert "may not act here" in answer.text


def test_our_own_post_passes(visitor: Visitor) -> None:
    """A post of our own page gets as far as the form's own rules."""
    own = {"origin": HERE, "sec-fetch-site": "same-origin"}
    assert visitor.post(ACKNOWLEDGE, json=NOBODY, headers=own).status_code == 422


def test_a_large_body_is_refused(visitor: Visitor) -> None:
    """More than 64 KiB is refused, said or unsaid."""
    said = visitor.post(ACKNOWLEDGE, content=b"x" * (BODY_AT_MOST + 1))
    assert said.status_code == 400

    async def unsaid() -> object:
        for _ in range(3):
            yield b"x" * BODY_AT_MOST

    answer = visitor.post(
        ACKNOWLEDGE, content=unsaid(), headers={"content-type": "application/json"}
    )
    assert answer.status_code == 400


def test_every_answer_carries_the_headers(visitor: Visitor) -> None:
    """Policy, no sniffing and referrer go with pages, errors and refusals; pages are not kept."""
    for path, host in (("/", "localhost"), ("/nope", "localhost"), ("/", "elsewhere.example")):
        answer = visitor.get(path, headers={"host": host})
        assert {name: answer.headers[name] for name in HEADERS} == HEADERS
        assert answer.headers["cache-control"] == "no-store"
    assert "unsafe" not in HEADERS["Content-Security-Policy"]
