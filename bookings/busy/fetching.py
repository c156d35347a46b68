"""Fetches a calendar from an address that a person typed: nothing inside the network, nothing without end.

The name is resolved here and the connection goes to the very address that was checked, anew at every
redirect. What the server says is never repeated in an error; no address is ever logged. After OWASP's
guidance on server-side request forgery. No Django.
"""

from __future__ import annotations

import base64
import ipaddress
import socket
import ssl
import threading
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException, HTTPResponse, IncompleteRead
from urllib.parse import SplitResult, quote, unquote, urljoin, urlsplit

from bookings.busy.limits import MOST_BYTES

MOST_REDIRECTS = 5
MOST_LETTERS = 1_000
MOST_LETTERS_OF_MARK = 100
SECONDS_TO_CONNECT = 5.0
SECONDS = 15.0
CHUNK = 64 * 1024
SCHEMES = {"http": "http", "https": "https", "webcal": "https", "webcals": "https"}
REDIRECTS = {301, 302, 303, 307, 308}
NAT64 = ipaddress.ip_network("64:ff9b::/96")  # RFC 6052 section 2.1
KEPT_IN_PATH = "/%:@!$&'()*+,;=~-._?"
INSIDE = (
    "The address leads into a private network, which this site doesn't fetch from. "
    "Upload the file instead, or ask whoever runs the site."
)
TOO_LARGE = f"The calendar is larger than {MOST_BYTES // 2**20} MB."
TOO_SLOW = f"The calendar took longer than {SECONDS:g} seconds to arrive."
PACKED = "The calendar is packed in a way that can't be unpacked here."
BROKEN_OFF = "The calendar broke off before its end."


class FetchProblem(Exception):
    """Why nothing was fetched, in a sentence of our own."""


@dataclass(frozen=True, slots=True)
class Fetched:
    """data is None when the server says that nothing has changed since."""

    data: bytes | None
    etag: str = ""
    last_modified: str = ""


def fetch(address: str, etag: str = "", last_modified: str = "", *, allow_private: bool = False) -> Fetched:
    """GET, conditional when etag or last_modified are those of an earlier copy. Raises FetchProblem."""
    url, credentials = parsed(address), _credentials(parsed(address))
    asked = {"If-None-Match": etag, "If-Modified-Since": last_modified}
    with _alarm() as alarm:
        for _ in range(MOST_REDIRECTS + 1):
            headers = {name: value for name, value in (asked | credentials).items() if value}
            answer = _ask(url, headers, alarm, allow_private)
            if isinstance(answer, Fetched):
                return answer
            target = parsed(urljoin(url.geturl(), answer))
            if (url.scheme, target.scheme) == ("https", "http"):
                raise FetchProblem("The address leads from a protected one (https) to an open one (http).")
            if (target.scheme, target.hostname, target.port) != (url.scheme, url.hostname, url.port):
                credentials = {}
            url = target
    raise FetchProblem(f"The address leads on more than {MOST_REDIRECTS} times.")


def parsed(address: str) -> SplitResult:
    """An http or https address whose parts can be used; webcal is read as https. Raises FetchProblem."""
    text = address.strip()
    if not text.isprintable() or " " in text or "\\" in text or len(text) > MOST_LETTERS:
        raise FetchProblem("The address can't be read: it is too long, or has blanks or odd letters in it.")
    try:
        url = urlsplit(text)
        port, host = url.port, (url.hostname or "").encode("idna").decode()
    except ValueError:
        raise FetchProblem("The address can't be read. Copy it again from the calendar program.") from None
    if url.scheme.lower() not in SCHEMES or not host:
        raise FetchProblem("The address has to begin with https://, http:// or webcal://.")
    if port is not None and port < 1024 and port not in (80, 443):
        raise FetchProblem("The address names a port at which no calendar is fetched.")
    scheme = SCHEMES[url.scheme.lower()]
    path, query = quote(url.path, safe=KEPT_IN_PATH) or "/", quote(url.query, safe=KEPT_IN_PATH)
    return url._replace(scheme=scheme, path=path, query=query, fragment="")


def host_of(address: str) -> str:
    """What may be shown of an address: the rest of it may be a secret."""
    try:
        return parsed(address).hostname or ""
    except FetchProblem:
        return ""


def is_public(address: str) -> bool:
    """Whether a numeric IP address is one of the open network, also when it is wrapped into IPv6."""
    ip = ipaddress.ip_address(address.partition("%")[0])
    if isinstance(ip, ipaddress.IPv6Address):
        inner = [ip.ipv4_mapped, ip.sixtofour, *(ip.teredo or ())]
        if ip in NAT64:
            inner.append(ipaddress.IPv4Address(int(ip) & 0xFFFFFFFF))
        if any(part is not None and not _open(part) for part in inner):
            return False
        if ip.ipv4_mapped:
            return True
    return _open(ip)


def _open(ip: ipaddress.IPv4Address | ipaddress.IPv6Address) -> bool:
    return ip.is_global and not ip.is_multicast and not ip.is_reserved


class Alarm:
    """Shuts the connection that is open when the time is up, whatever it is waiting for."""

    def __init__(self) -> None:
        self.rang = False
        self.socket: socket.socket | None = None
        self.timer = threading.Timer(SECONDS, self.ring)
        self.timer.daemon = True

    def watch(self, connection: socket.socket) -> None:
        self.socket = connection
        if self.rang:
            self.ring()

    def ring(self) -> None:
        self.rang = True
        if self.socket:
            try:
                self.socket.shutdown(socket.SHUT_RDWR)
            except OSError:
                self.socket.close()


@contextmanager
def _alarm() -> Iterator[Alarm]:
    alarm = Alarm()
    alarm.timer.start()
    try:
        yield alarm
    except (OSError, HTTPException, ValueError) as problem:
        raise FetchProblem(TOO_SLOW if alarm.rang else _in_words(problem)) from None
    finally:
        alarm.timer.cancel()


def _in_words(problem: Exception) -> str:
    if isinstance(problem, socket.gaierror):
        return "There is no server of that name. Check the address."
    if isinstance(problem, ssl.SSLCertVerificationError):
        return "The server can't prove that it is the one in the address (its certificate is not valid)."
    if isinstance(problem, TimeoutError):
        return "The server doesn't answer."
    if isinstance(problem, IncompleteRead):
        return BROKEN_OFF
    if isinstance(problem, OSError):
        return "The server can't be reached."
    return "The server's answer can't be understood."


class CheckedConnection(HTTPConnection):
    """Connects only to an address that was checked, and by that very address."""

    def __init__(self, url: SplitResult, alarm: Alarm, allow_private: bool) -> None:
        self.tls = url.scheme == "https"
        host = (url.hostname or "").encode("idna").decode()
        super().__init__(host, url.port or (443 if self.tls else 80), timeout=SECONDS_TO_CONNECT)
        self.alarm = alarm
        self.allow_private = allow_private

    def connect(self) -> None:
        connection = self.first_that_answers()
        self.sock = connection
        self.alarm.watch(connection)
        connection.settimeout(SECONDS)
        if self.tls:
            connection = ssl.create_default_context().wrap_socket(connection, server_hostname=self.host)
            self.alarm.watch(connection)
        self.sock = connection

    def first_that_answers(self) -> socket.socket:
        found = socket.getaddrinfo(self.host, self.port, type=socket.SOCK_STREAM)
        usable = [info for info in found if self.allow_private or is_public(str(info[4][0]))]
        if not usable:
            raise FetchProblem(INSIDE)
        for family, kind, protocol, _, place in usable[:4]:
            connection = socket.socket(family, kind, protocol)
            connection.settimeout(SECONDS_TO_CONNECT)
            try:
                connection.connect(place)
            except OSError as problem:
                connection.close()
                last = problem
            else:
                return connection
        raise last


def _ask(url: SplitResult, headers: dict[str, str], alarm: Alarm, allow_private: bool) -> Fetched | str:
    """What one server answers: a calendar, or where to ask instead."""
    connection = CheckedConnection(url, alarm, allow_private)
    headers |= {"Accept": "text/calendar, */*;q=0.5", "Accept-Encoding": "identity", "Connection": "close"}
    try:
        connection.request("GET", url._replace(scheme="", netloc="").geturl(), headers=headers)
        with closing(connection.getresponse()) as response:
            return _understood(response, alarm)
    finally:
        connection.close()


def _understood(response: HTTPResponse, alarm: Alarm) -> Fetched | str:
    if response.status in REDIRECTS and (target := response.getheader("Location")):
        return target
    etag, changed = response.getheader("ETag", ""), response.getheader("Last-Modified", "")
    etag = etag if len(etag) <= MOST_LETTERS_OF_MARK else ""
    changed = changed if len(changed) <= MOST_LETTERS_OF_MARK else ""
    if response.status == 304:
        return Fetched(None, etag, changed)
    if response.status != 200:
        raise FetchProblem(_refusal(response.status))
    return Fetched(_body(response, alarm), etag, changed)


def _refusal(status: int) -> str:
    if status in (401, 403):
        return "The server asks for a password, or doesn't give the calendar out."
    if status in (404, 410):
        return "There is no calendar at this address any more. Copy the address again."
    if status == 429 or status >= 500:
        return "The server is in trouble at the moment. It will be asked again."
    return "The server doesn't give a calendar out at this address."


def _body(response: HTTPResponse, alarm: Alarm) -> bytes:
    """All of it, unpacked; raises FetchProblem as soon as it is too much."""
    if (response.length or 0) > MOST_BYTES:
        raise FetchProblem(TOO_LARGE)
    coding = response.getheader("Content-Encoding", "identity").strip().lower()
    if coding not in ("identity", "", "gzip", "x-gzip"):
        raise FetchProblem(PACKED)
    unpack = zlib.decompressobj(31) if "gzip" in coding else None
    whole = bytearray()
    for chunk in _chunks(response):
        try:
            whole += unpack.decompress(chunk, MOST_BYTES + 1 - len(whole)) if unpack else chunk
        except zlib.error:
            raise FetchProblem(PACKED) from None
        if len(whole) > MOST_BYTES:
            raise FetchProblem(TOO_LARGE)
    if alarm.rang:
        raise FetchProblem(TOO_SLOW)
    if unpack and not unpack.eof:
        raise FetchProblem(BROKEN_OFF)
    return bytes(whole)


def _chunks(response: HTTPResponse) -> Iterator[bytes]:
    left = response.length  # None when the server doesn't say
    while left is None or left > 0:
        chunk = response.read1(CHUNK if left is None else min(CHUNK, left))
        if not chunk and left:
            raise IncompleteRead(b"", left)
        if not chunk:
            return
        left = left - len(chunk) if left is not None else None
        yield chunk


def _credentials(url: SplitResult) -> dict[str, str]:
    if not url.username:
        return {}
    pair = f"{unquote(url.username)}:{unquote(url.password or '')}"
    return {"Authorization": "Basic " + base64.b64encode(pair.encode()).decode()}
