"""Bytes to readings: decoding, screening, discovery. Pure."""

from monitor.intake.decoder import RETAIN_CLEAR, Decoded, Decoder
from monitor.intake.discovery import (
    Guess,
    Unclaimed,
    UnclaimedTopic,
    guesses_in,
    usual_interval_s,
    words,
)
from monitor.intake.reasons import Reason
from monitor.intake.screening import Screen
from monitor.intake.stamper import Stamper
from monitor.intake.subscribing import covers, subscriptions
from monitor.intake.value import TEMPERATURES

__all__ = [
    "RETAIN_CLEAR", "TEMPERATURES", "Decoded", "Decoder", "Guess", "Reason", "Screen", "Stamper",
    "Unclaimed", "UnclaimedTopic", "covers", "guesses_in", "subscriptions", "usual_interval_s",
    "words",
]  # fmt: skip
