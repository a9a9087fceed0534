"""Mails: plain text, from `templates/studio/mail/<name>.txt` and `<name>_subject.txt`."""

import logging
import threading
from smtplib import SMTPException
from typing import Any

from django.core.mail import EmailMessage
from django.template.loader import render_to_string

log = logging.getLogger(__name__)


def write(name: str, *, to: str, reply_to: str = "", **words: Any) -> EmailMessage:
    """A mail that is ready to be sent."""
    subject = " ".join(render_to_string(f"studio/mail/{name}_subject.txt", words).split())
    body = render_to_string(f"studio/mail/{name}.txt", words)
    return EmailMessage(subject, body, to=[to], reply_to=[reply_to] if reply_to else None)


def send_quietly(message: EmailMessage) -> None:
    try:
        message.send()
    except (SMTPException, OSError):
        log.exception("a mail could not be sent")


def send_soon(message: EmailMessage) -> threading.Thread:
    """Sends beside the request, so that the time a page takes does not tell whether there was anything to send."""
    thread = threading.Thread(target=send_quietly, args=[message], name="mail")
    thread.start()
    return thread
