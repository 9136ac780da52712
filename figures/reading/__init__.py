"""The classifier: one reading for lessons, quizzes, sheets and the command line alike."""

from .classify import read
from .record import (
    CONFIGURATIONS,
    SEVERITIES,
    Evidence,
    Finding,
    Loop,
    Reading,
    Separation,
)

__all__ = ["CONFIGURATIONS", "SEVERITIES", "Evidence", "Finding", "Loop", "Reading", "Separation", "read"]
