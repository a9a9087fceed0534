// A tempo from taps: pure, so that it can be tested by itself.

const PAUSE = 3000; // milliseconds: 20 beats a minute; after a longer pause the counting begins anew
const LAST = 8; // only the last gaps count, so that a changed mind is followed
const APART = 0.25; // a gap that differs by more than a quarter from the middle one was a slip

const middle = (numbers) => {
  const sorted = [...numbers].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
};

// {tempo, count} of the moments of taps in milliseconds: the median of the last gaps, slips left out; null before there
// are two taps. `count` is how many taps that rests on.
export function tapped(moments) {
  const gaps = [];
  for (let place = moments.length - 1; place > 0 && gaps.length < LAST; place -= 1) {
    const gap = moments[place] - moments[place - 1];
    if (gap > PAUSE || !(gap > 0)) break;
    gaps.push(gap);
  }
  if (!gaps.length) return null;
  const usual = middle(gaps);
  const even = gaps.filter((gap) => Math.abs(gap - usual) <= usual * APART);
  const kept = even.length ? even : gaps;
  return { tempo: 60000 / middle(kept), count: kept.length + 1 };
}
