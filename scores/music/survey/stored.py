"""Findings as plain data and back, exactly: what is kept beside an edition."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

from scores.music.survey.words import Finding

VERSION = 2  # of what a survey finds: raise it when the same score is to be surveyed anew


def to_data(findings: Iterable[Finding]) -> list[list[Any]]:
    """One row of JSON-able values for each finding."""
    return [
        [
            one.kind,
            one.measure,
            one.number,
            str(one.beat),
            str(one.onset),
            one.hand,
            list(one.notes),
            one.message,
            dict(one.params),
            one.detail,
            one.last_measure,
            one.last_number,
            one.anchor,
        ]
        for one in findings
    ]


def from_data(rows: Iterable[Sequence[Any]]) -> tuple[Finding, ...]:
    """The findings again. Raises `ValueError` for rows that `to_data` did not write."""
    return tuple(
        Finding(kind, measure, number, Fraction(beat), Fraction(onset), hand, tuple(notes), message, params, *rest)
        for kind, measure, number, beat, onset, hand, notes, message, params, *rest in rows
    )
