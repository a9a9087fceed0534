"""Graces and ornaments written out; start with `realise`."""

from scores.music.ornaments.realise import realise
from scores.music.ornaments.words import BadChoice, Choice, Performance, Realised, Remark, Sounding, Start

__all__ = ["BadChoice", "Choice", "Performance", "Realised", "Remark", "Sounding", "Start", "realise"]
