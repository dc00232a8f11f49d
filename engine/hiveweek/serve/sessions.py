"""Who is at the page: a signed cookie, and the token that only a form of this page holds."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from itsdangerous import BadData, URLSafeSerializer, URLSafeTimedSerializer
from starlette.responses import Response

LASTS = 14 * 24 * 3600  # seconds


class Role(IntEnum):
    """What somebody may do; each may do what those before it may."""

    READER = 1
    HELPER = 2
    KEEPER = 3


@dataclass(frozen=True)
class Session:
    """Somebody at the page.

    Attributes
    ----------
    id : str
    role : Role
    who : str
        The name by which they are noted; empty where none was given.
    phrase : str
        Mark of the pass phrase that let them in; another phrase ends the session.
    """

    id: str
    role: Role
    who: str = ""
    phrase: str = ""


class Sessions:
    """Writes and reads sessions.

    Parameters
    ----------
    secret : str
        Signs them.
    secure : bool
        The cookie goes over TLS only.
    port : str
        Tells it from the cookies of other pages of this machine.
    """

    def __init__(self, secret: str, *, secure: bool, port: str = ""):
        self.secure = secure
        self.cookie = f"{'__Host-' if secure else ''}hiveweek{port}"  # cookies are of a host, whatever the port
        self._signer = URLSafeTimedSerializer(secret, salt="session")
        self._tokens = URLSafeSerializer(secret, salt="form")

    def new(self, role: Role, who: str = "", phrase: str = "") -> Session:
        """Return a session of somebody who has come in."""
        return Session(secrets.token_hex(12), role, who, phrase)

    def read(self, cookies: Mapping[str, str]) -> Session | None:
        """Return the session of a request; None for one that is missing, forged or too old."""
        try:
            said = self._signer.loads(cookies.get(self.cookie, ""), max_age=LASTS)
            return Session(said["id"], Role(said["role"]), said["who"], said["phrase"])
        except (BadData, KeyError, TypeError, ValueError):
            return None

    def write(self, response: Response, session: Session) -> None:
        """Give a session along with a response."""
        said = {"id": session.id, "role": int(session.role), "who": session.who, "phrase": session.phrase}
        value = self._signer.dumps(said)
        response.set_cookie(
            self.cookie, str(value), max_age=LASTS, secure=self.secure, httponly=True, samesite="strict", path="/"
        )

    def end(self, response: Response) -> None:
        """Take a session away."""
        response.delete_cookie(self.cookie, secure=self.secure, httponly=True, samesite="strict", path="/")

    def token(self, session: Session) -> str:
        """Return the token that the forms of a session hold."""
        return str(self._tokens.dumps(session.id))

    def holds(self, session: Session, token: str) -> bool:
        """Whether a form is one of this session."""
        try:
            return bool(secrets.compare_digest(str(self._tokens.loads(token)), session.id))
        except BadData:
            return False
