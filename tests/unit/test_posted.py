"""Forms as browsers post them (RFC 7578, the URL standard), and bodies that only look like one."""

from __future__ import annotations

import contextlib
import time
from email.mime.application import MIMEApplication
from email.mime.multipart import MIMEMultipart
from email.policy import HTTP

import httpx
import pytest

from api.posted import Field, fields
from capture.errors import RequestError

MULTIPART = "multipart/form-data; boundary=a"
WHOLE = 1024 * 1024
"""The largest body that the service takes."""


def part(head: str, data: bytes) -> bytes:
    return b"--a\r\n" + head.encode() + b"\r\n\r\n" + data + b"\r\n"


def test_a_form_with_a_file_comes_byte_for_byte() -> None:
    """As httpx writes it."""
    data = bytes(range(256)) + b"\r\n--\r\n\r\n"
    sent = httpx.Request(
        "POST", "http://bench", data={"text": "ä"}, files={"file": ("mötor.toml", data)}
    )
    found = fields(sent.headers["content-type"], sent.read())
    assert found == {"text": Field("ä".encode()), "file": Field(data, "mötor.toml")}


def test_a_form_by_another_writer() -> None:
    """As the standard library's e-mail package writes it."""
    whole = MIMEMultipart("form-data", policy=HTTP)
    one = MIMEApplication(b"x = 1\n", _encoder=lambda _: None, policy=HTTP)
    one.add_header("Content-Disposition", "form-data", name="file", filename="a.toml")
    whole.attach(one)
    head, _, body = whole.as_bytes().partition(b"\r\n\r\n")
    kind = head.decode().partition("Content-Type: ")[2].partition("\r\nMIME")[0]
    assert fields(" ".join(kind.split()), body)["file"].file == "a.toml"


def test_names_and_values_of_all_sorts() -> None:
    body = (
        b"before\r\n"
        + part('Content-Disposition: form-data; name="file"; filename="a %22b%22.toml"', b"")
        + part('content-disposition:form-data; filename="c"; name="text"', b"one")
        + part('Content-Disposition: form-data; name="text"', b"-a\r\r\n--b")
        + part("Content-Type: text/plain", b"no name")
        + b"--a\r\n\r\nno head\r\n--a--\r\nbehind"
    )
    found = fields(MULTIPART, body)
    assert found == {"file": Field(b"", 'a "b".toml'), "text": Field(b"-a\r\r\n--b")}
    assert fields('Multipart/Form-Data; charset=x; boundary="a b"', b"--a b--") == {}
    assert fields("application/x-www-form-urlencoded", b"a=%C3%A4+b&a=&c=%FF") == {
        "a": Field(b""), "c": Field("\N{REPLACEMENT CHARACTER}".encode())
    }  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("multipart/form-data", b"--a--"),
        (MULTIPART, b""),
        (MULTIPART, b'--a\r\nContent-Disposition: form-data; name="a"\r\n\r\ncut off'),
        (MULTIPART, b"--a\r\nno blank line\r\n--a--"),
        (MULTIPART, part("A: b", b"") * 60 + b"--a--"),
        ("application/x-www-form-urlencoded", b"a=1&" * 60),
    ],
)
def test_what_is_no_form_is_refused(kind: str, body: bytes) -> None:
    with pytest.raises(RequestError) as caught:
        fields(kind, body)
    assert caught.value.mend


@pytest.mark.parametrize(
    "body",
    [
        b"--a\r\n\r\n" * 120_000,
        part('Content-Disposition: form-data; name="t"', b"x") * 17_000,
        b"--a\r\nContent-Disposition: form-data; " + b"n=x; " * 200_000 + b"\r\n\r\nx\r\n--a--",
        b"--a\r\nContent-Disposition: form-data; " + b";\t " * 300_000 + b"\r\n\r\nx\r\n--a--",
        part('Content-Disposition: form-data; name="' + "=?utf-8?q?x?= " * 500 + '"', b"")
        + b"--a--",
        part('Content-Disposition: form-data; name="t"', b"\r\n" * 500_000) + b"--a--",
        b"--a\r\n" + b"A: b\r\n" * 170_000 + b"\r\nx\r\n--a--",
    ],
)
def test_no_body_keeps_the_service_busy(body: bytes) -> None:
    """Such bodies kept a general parser of messages busy for minutes."""
    began = time.process_time()
    with contextlib.suppress(RequestError):
        fields(MULTIPART, body[:WHOLE])
    assert time.process_time() - began < 0.5
