"""Whoever has a mail address kept is told by mail when their credentials changed.

Mails go out in a thread of their own, with further tries where the mail server doesn't take them;
no answer waits for them. Nothing secret stands in them: what changed, by whom and when.
"""

from __future__ import annotations

import heapq
import itertools
import logging
import smtplib
import ssl
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime, make_msgid
from threading import Condition, Thread
from typing import Final

from bondwright.page.listen import is_local
from bondwright.page.places import Often, Places
from bondwright.store.changes import Change, What
from bondwright.store.errors import StoreError
from bondwright.store.mail import check_mail

TRIES_S: Final = (0.0, 10.0, 60.0, 300.0, 1800.0, 7200.0)
"""So long after the try before, s, each try comes."""
LINE_S: Final = 20.0
"""The mail server has so long for each of its answers, s."""
_MOST: Final = 2000
"""Mails that may wait; more is no people but a program."""
_TROUBLES: Final = 20
_TLS: Final = 465
"""On this port TLS comes first; on others it is asked for (STARTTLS)."""
_LOG: Final = logging.getLogger("bondwright.page")
_SAID: Final = {
    What.ADDED: ("you can log in", "You were let in"),
    What.ROLE: ("your role was changed", "What you may do was changed"),
    What.PASSWORD: ("your password was changed", "Your password was set"),
    What.FACTOR: ("your second factor was set up", "Your second factor was set up"),
    What.NO_FACTOR: ("your second factor was taken away", "Your second factor was taken away"),
    What.SPARE: ("your spare codes were changed", "Your spare codes were made anew"),
    What.REMOVED: ("you can't log in any more", "You were taken out of the users"),
    What.MAIL: ("your address for notices was changed", "Your address for notices was changed"),
    What.PLACE: ("you logged in from a new place", "Somebody logged in under your name"),
}  # fmt: skip


class MailError(RuntimeError):
    """A mail that wasn't taken; the text says why, and names nobody.

    Attributes:
        for_good: whether another try would change nothing.
    """

    def __init__(self, why: str, *, for_good: bool = False) -> None:
        self.for_good = for_good
        super().__init__(why)


@dataclass(frozen=True, slots=True)
class Post:
    """The mail server, and how it is spoken to.

    Attributes:
        host: name or number.
        port: 465 speaks TLS first; on another, TLS is asked for. Only on this machine, without a
            name and password, goes mail unencrypted.
        sender: address that mails come from.
        user: name there, or "".
        password: there.
        context: of TLS; None takes the system's certificates.
    """

    host: str
    port: int
    sender: str
    user: str = ""
    password: str = field(default="", repr=False)
    context: ssl.SSLContext | None = None

    def send(self, message: EmailMessage) -> None:
        """Hand a mail over.

        Raises:
            MailError: it isn't taken.
        """
        context = self.context or ssl.create_default_context()
        own = self.sender.rpartition("@")[2]
        try:
            if self.port == _TLS:
                with smtplib.SMTP_SSL(
                    self.host, self.port, own, timeout=LINE_S, context=context
                ) as line:
                    self._hand_over(line, message)
                return
            with smtplib.SMTP(self.host, self.port, own, timeout=LINE_S) as line:
                if self.user or not is_local(self.host):
                    line.ehlo()
                    if not line.has_extn("starttls"):
                        raise MailError("the mail server speaks no TLS", for_good=True)
                    line.starttls(context=context)
                self._hand_over(line, message)
        except smtplib.SMTPAuthenticationError as error:
            raise MailError("the mail server doesn't take our name and password") from error
        except smtplib.SMTPRecipientsRefused as error:
            codes = [code for code, _ in error.recipients.values()]
            told = "the mail server doesn't take the address"
            raise MailError(told, for_good=all(code >= 500 for code in codes)) from error
        except smtplib.SMTPSenderRefused as error:
            raise MailError("the mail server doesn't take the sender's address") from error
        except smtplib.SMTPResponseException as error:
            raise MailError(f"the mail server answers {error.smtp_code}") from error
        except ssl.SSLError as error:
            raise MailError("the mail server's certificate is no good") from error
        except (OSError, smtplib.SMTPException, ValueError) as error:
            raise MailError("the mail server doesn't answer") from error

    def _hand_over(self, line: smtplib.SMTP, message: EmailMessage) -> None:
        if self.user:
            line.login(self.user, self.password)
        line.send_message(message, self.sender, [str(message["To"])])


@dataclass(order=True, slots=True)
class _Letter:
    due: float
    number: int
    message: EmailMessage = field(compare=False)
    name: str = field(compare=False)
    tried: int = field(default=0, compare=False)


class Mailer:
    """Sends notices.

    Args:
        post: hands a mail over; raises :class:`MailError` where it isn't taken.
        sender: address that mails come from.
        place: what the server is called, for a person.
        clock: seconds that only go up.

    Attributes:
        places: from where people log in.
        often: how often they change where they are told.
    """

    def __init__(
        self,
        post: Callable[[EmailMessage], None],
        sender: str,
        place: str,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._post, self._sender, self._place, self._clock = post, sender, place, clock
        self._number = itertools.count()
        self._letters: list[_Letter] = []
        self._turn = Condition()
        self._busy = self._over = False
        self._troubles: deque[str] = deque(maxlen=_TROUBLES)
        self.places, self.often = Places(), Often()
        self._thread = Thread(target=self._work, name="notices", daemon=True)
        self._thread.start()

    def tell(self, change: Change) -> None:
        """Tell whose credentials changed, soon and elsewhere; it takes no time."""
        if change.what is What.REMOVED:
            self.places.forget(change.name)
            self.often.forget(change.name)
        if not change.mail:
            return
        try:
            check_mail(change.mail)
            message = self._message(change)
        except (StoreError, ValueError):  # kept by something else than ourselves
            self._trouble(change.name, "the address kept is none")
            return
        with self._turn:
            full = len(self._letters) >= _MOST
            if not full:
                letter = _Letter(self._clock(), next(self._number), message, change.name)
                heapq.heappush(self._letters, letter)
                self._turn.notify_all()
        if full:
            self._trouble(change.name, "too many mails are waiting")

    def _message(self, change: Change) -> EmailMessage:
        subject, said = _SAID[change.what]
        when = change.at.astimezone(UTC)
        word = "from" if change.what is What.PLACE else "by"
        by = f" {word} {_plain(change.by)}" if change.by else ""
        message = EmailMessage(SMTP)
        message["From"], message["To"] = self._sender, change.mail
        message["Subject"] = f"bondwright: {subject}"
        message["Date"] = format_datetime(when)
        message["Message-ID"] = make_msgid(domain=self._sender.rpartition("@")[2])
        message["Auto-Submitted"] = "auto-generated"  # RFC 3834: no robot answers it
        message.set_content(
            f"{said}{by}, {when:%Y-%m-%d %H:%M} UTC.\n\n"
            f"Name: {_plain(change.name)}\nServer: {_plain(self._place)}\n\n"
            "If you know nothing of it, tell whoever keeps the users. Nobody asks you for a\n"
            "password by mail, and this mail wants no answer.\n"
        )
        return message

    @property
    def troubles(self) -> tuple[str, ...]:
        """What couldn't be sent lately, for whoever keeps the users."""
        with self._turn:
            return tuple(self._troubles)

    def _trouble(self, name: str, why: str) -> None:
        when = datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC")
        with self._turn:
            self._troubles.append(f"A notice to {_plain(name)} was not sent, {when}: {why}.")
        _LOG.warning("a notice by mail was not sent: %s", why)

    def _work(self) -> None:
        while True:
            with self._turn:
                while not self._over and not self._due():
                    left = self._letters[0].due - self._clock() if self._letters else None
                    self._turn.wait(left)
                if self._over and not self._due():
                    return
                letter = heapq.heappop(self._letters)
                self._busy = True
            try:
                self._try(letter)
            finally:
                with self._turn:
                    self._busy = False
                    self._turn.notify_all()

    def _due(self) -> bool:
        return bool(self._letters) and self._letters[0].due <= self._clock()

    def _try(self, letter: _Letter) -> None:
        try:
            self._post(letter.message)
        except MailError as error:
            letter.tried += 1
            if error.for_good or letter.tried == len(TRIES_S):
                self._trouble(letter.name, str(error))
                return
            if letter.tried == 1:
                _LOG.warning("a notice by mail is tried again later: %s", error)
            letter.due = self._clock() + TRIES_S[letter.tried]
            with self._turn:
                heapq.heappush(self._letters, letter)
        except Exception:  # the thread goes on, whatever one mail had
            self._trouble(letter.name, "of something that nobody foresaw")

    def close(self, patience: float = 5.0) -> int:
        """Wait a while for what is due, then stop.

        Returns:
            How many mails were not sent.
        """
        until = time.monotonic() + patience
        with self._turn:
            while self._busy or self._due():
                left = until - time.monotonic()
                if left <= 0:
                    break
                self._turn.wait(left)
            unsent = len(self._letters) + self._busy
            self._letters.clear()
            self._over = True
            self._turn.notify_all()
        if unsent:
            _LOG.warning("notices by mail that were not sent before the end: %d", unsent)
        return unsent


def _plain(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)[:200]
