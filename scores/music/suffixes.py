"""Suffixes of a sequence in order, and what repeats in it: numbers in, places out."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field


@dataclass(slots=True)
class Repeat:
    """A stretch of `length` items that stands at all of `starts`, in order."""

    length: int
    starts: list[int]


@dataclass(slots=True)
class Node:
    """A stretch while its places are still being gathered. `before` is what stands before all of them; `varies` says
    that it is not the same everywhere."""

    length: int
    starts: list[int] = field(default_factory=list)
    before: tuple[int, int] = (-1, -1)
    varies: bool = False

    def take(self, other: Node) -> None:
        """Gathers the places of a longer stretch that begins with this one."""
        self.varies = self.varies or other.varies or bool(self.starts and self.before != other.before)
        self.before = other.before
        if len(self.starts) < len(other.starts):
            self.starts, smaller = other.starts, self.starts
        else:
            smaller = other.starts
        if len(smaller) == 1:
            insort(self.starts, smaller[0])
        else:
            self.starts = sorted(self.starts + smaller)


class Suffixes:
    """The suffixes of `items`, sorted. With `links`, one between each two items, two stretches are the same if their
    items and the links inside them are."""

    def __init__(self, items: Sequence[int], links: Sequence[int] | None = None) -> None:
        self.items, self.links = items, links
        text = list(items) if links is None else woven(items, links)
        every = sorted_suffixes(text)
        common = common_lengths(text, every)
        pace = 1 if links is None else 2
        self.order: list[int] = []  # where each suffix starts, in sorted order
        self.common: list[int] = []  # how many items each shares with the one before it
        least = 0
        for start, shared in zip(every, common, strict=True):
            least = min(least, shared)
            if start % pace == 0:
                self.order.append(start // pace)
                self.common.append((least + pace - 1) // pace)
                least = len(text)

    def before(self, start: int) -> tuple[int, int]:
        """What stands before a place: nothing is unlike anything."""
        if not start:
            return (-1, -1)
        return (self.items[start - 1], self.links[start - 1] if self.links is not None else 0)

    def repeats(self) -> Iterator[Repeat]:
        """Every stretch that stands at two places at least with something else before it, and something else after it,
        at two of them."""
        open_nodes: list[Node] = []
        for place, start in enumerate(self.order):
            shared = self.common[place + 1] if place + 1 < len(self.order) else 0
            pending = Node(0, [start], self.before(start))
            while open_nodes and open_nodes[-1].length > shared:
                node = open_nodes.pop()
                node.take(pending)
                if node.varies:
                    yield Repeat(node.length, list(node.starts))
                pending = node
            if not shared:
                continue
            if not open_nodes or open_nodes[-1].length < shared:
                open_nodes.append(Node(shared))
            open_nodes[-1].take(pending)

    def repeat_of(self, start: int, length: int) -> Repeat:
        """All the places of the stretch that stands at one of them."""
        place = self.ranks[start]
        first = place
        while first and self.common[first] >= length:
            first -= 1
        last = place
        while last + 1 < len(self.order) and self.common[last + 1] >= length:
            last += 1
        return Repeat(length, sorted(self.order[first : last + 1]))

    @property
    def ranks(self) -> dict[int, int]:
        if not hasattr(self, "kept_ranks"):
            self.kept_ranks = {start: place for place, start in enumerate(self.order)}
        return self.kept_ranks


def woven(items: Sequence[int], links: Sequence[int]) -> list[int]:
    """Items and links in turn, in numbers that keep them apart."""
    lowest = min(links, default=0)
    text = [0] * (len(items) + len(links))
    text[::2] = [2 * item for item in items]
    text[1::2] = [2 * (link - lowest) + 1 for link in links]
    return text


def sorted_suffixes(text: Sequence[int]) -> list[int]:
    """Where the suffixes of the text start, in sorted order: by their first 1, 2, 4, ... items."""
    count = len(text)
    values = sorted(set(text))
    rank = [bisect_left(values, item) + 1 for item in text]
    order = list(range(count))
    width = 1
    while count:
        keys = [rank[start] * (count + 1) + (rank[start + width] if start + width < count else 0) for start in order]
        by_place = dict(zip(order, keys, strict=True))
        order.sort(key=by_place.__getitem__)
        fresh, highest, last = [0] * count, 0, -1
        for start in order:
            if by_place[start] != last:
                highest, last = highest + 1, by_place[start]
            fresh[start] = highest
        rank = fresh
        if highest == count:
            break
        width *= 2
    return order


def common_lengths(text: Sequence[int], order: Sequence[int]) -> list[int]:
    """How many items each suffix, in sorted order, shares with the one before it (Kasai and others 2001: from memory);
    linear."""
    rank = [0] * len(text)
    for place, start in enumerate(order):
        rank[start] = place
    common, shared = [0] * len(text), 0
    for start in range(len(text)):
        if not rank[start]:
            shared = 0
            continue
        other = order[rank[start] - 1]
        while (
            start + shared < len(text) and other + shared < len(text) and text[start + shared] == text[other + shared]
        ):
            shared += 1
        common[rank[start]] = shared
        shared = max(0, shared - 1)
    return common
