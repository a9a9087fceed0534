"""Words as they are looked for: without accents, capitals or the marks between them, in any script.

What is kept to be found and what is typed to find it go through here, so that both databases compare the same plain
words and need no language of their own.
"""

import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from itertools import groupby

MOST_WORDS = 12  # of a question; more make it no clearer
LONGEST = 40  # signs of a word

# Letters that have no accent to take away, spelled as people type them.
SPELLED = str.maketrans(
    {"ø": "o", "đ": "d", "ð": "d", "þ": "th", "ł": "l", "æ": "ae", "œ": "oe", "ı": "i", "ħ": "h", "ŋ": "n", "ς": "σ"}
)
# Scripts that set no space between words. Their words are found by pairs of neighbouring signs.
UNSPACED = (
    (0x0E00, 0x0EFF),  # Thai, Lao
    (0x1000, 0x109F),  # Burmese
    (0x1780, 0x17FF),  # Khmer
    (0x3040, 0x30FF),  # kana
    (0x3400, 0x4DBF),  # Han
    (0x4E00, 0x9FFF),
    (0xF900, 0xFAFF),
    (0x20000, 0x323AF),
)
BETWEEN, FIGURE, LETTER, SIGN = range(4)


def folded(text: str) -> str:
    """The text in small letters without accents: "Étude", "étude" and "ETUDE" are one, so are "ё" and "е"."""
    plain = unicodedata.normalize("NFKD", text).casefold().translate(SPELLED)
    return "".join(sign for sign in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(sign))


def words_of(text: str) -> list[str]:
    """The words that a text can be found by, each once. "op. 28,7" and "op28 no. 7" have "op", "28", "7" in common."""
    return list(dict.fromkeys(word for kind, run in runs(text) for word in indexed(kind, run)))


def asked_words(text: str) -> list[str]:
    """What a word of the text must begin with, for each word that was typed; at most `MOST_WORDS`."""
    return list(dict.fromkeys(word for kind, run in runs(text) for word in looked_for(kind, run)))[:MOST_WORDS]


def runs(text: str) -> Iterator[tuple[int, str]]:
    """Stretches of letters, of figures, and of a script without spaces. An apostrophe stands in no word's way."""
    plain = folded(text.replace("'", "").replace("’", ""))
    for kind, signs in groupby(plain, key=kind_of):
        if kind != BETWEEN:
            yield kind, "".join(signs)


@lru_cache(maxsize=4096)
def kind_of(sign: str) -> int:
    if any(first <= ord(sign) <= last for first, last in UNSPACED):
        return SIGN
    group = unicodedata.category(sign)
    if group[0] == "N":
        return FIGURE
    return LETTER if group[0] in "LM" else BETWEEN


def indexed(kind: int, run: str) -> list[str]:
    """A word, or every pair of neighbouring signs with the last one alone."""
    return [run[place : place + 2] for place in range(len(run))] if kind == SIGN else [run[:LONGEST]]


def looked_for(kind: int, run: str) -> list[str]:
    """A word, or the pairs that a run of signs is made of; one sign alone begins a pair."""
    return [run[place : place + 2] for place in range(max(1, len(run) - 1))] if kind == SIGN else [run[:LONGEST]]
