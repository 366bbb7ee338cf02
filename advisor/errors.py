"""The common base of the errors whose message is meant for a person."""

from __future__ import annotations


class AdvisorError(Exception):
    """Something a person can read and act on; the command shows its message as it is."""
