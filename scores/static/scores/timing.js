// How early or late strokes came: the strokes that a rhythm asks for laid against those that were played.
//
// Pure: lists in, numbers out. Times are seconds on one clock, errors milliseconds; early is negative.

const REACH = 0.35; // seconds: a stroke further from its place than this is another stroke
const DELAYS = 0.45; // seconds: a steady delay of the equipment is looked for as far as this
const CLOSE = 0.05; // seconds: strokes that agree on one delay lie this close
export const CLEAN = 50; // milliseconds within which every stroke of a clean run lies; common practice

export const mean = (numbers) => numbers.reduce((sum, one) => sum + one, 0) / numbers.length;

export function median(numbers) {
  const sorted = [...numbers].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}

// The standard deviation of a sample; null for fewer than two.
export function spread(numbers) {
  if (numbers.length < 2) return null;
  const middle = mean(numbers);
  return Math.sqrt(numbers.reduce((sum, one) => sum + (one - middle) ** 2, 0) / (numbers.length - 1));
}

// Pairs of one hand, in order, each stroke used once: as many as lie within reach, and of those ways the one with the
// least distance in all. Returns [[place in expected, place in played]].
export function matched(expected, played, reach = REACH) {
  const wide = played.length + 1;
  const best = new Float64Array((expected.length + 1) * wide);
  const pairs = (a, b) => 2 * reach - Math.abs(expected[a] - played[b]);
  for (let a = expected.length - 1; a >= 0; a -= 1) {
    for (let b = played.length - 1; b >= 0; b -= 1) {
      const apart = Math.abs(expected[a] - played[b]);
      const joined = apart <= reach ? pairs(a, b) + best[(a + 1) * wide + b + 1] : -1;
      best[a * wide + b] = Math.max(joined, best[(a + 1) * wide + b], best[a * wide + b + 1]);
    }
  }
  const found = [];
  for (let a = 0, b = 0; a < expected.length && b < played.length; ) {
    const here = best[a * wide + b];
    if (here === best[(a + 1) * wide + b]) a += 1;
    else if (here === best[a * wide + b + 1]) b += 1;
    else found.push([a++, b++]);
  }
  return found;
}

// A steady delay of all strokes (seconds): the one on which most strokes agree; of those the nearest to none.
export function steadyDelay(expected, played) {
  const apart = [];
  for (const stroke of played) {
    for (const wanted of expected) {
      const late = stroke.time - wanted.time;
      if (wanted.hand === stroke.hand && Math.abs(late) <= DELAYS) apart.push(late);
    }
  }
  apart.sort((a, b) => a - b);
  let best = { count: 0, delay: 0 };
  for (let from = 0, to = 0; from < apart.length; from += 1) {
    while (to < apart.length && apart[to] - apart[from] <= 2 * CLOSE) to += 1;
    const delay = median(apart.slice(from, to));
    const count = to - from;
    if (count > best.count || (count === best.count && Math.abs(delay) < Math.abs(best.delay))) best = { count, delay };
  }
  return best.delay;
}

// `expected`: {hand, part, turn, time}; `played`: {hand, time}. With `calibrated` the median of all errors is taken off
// as the equipment's own delay, and told. The hands are matched apart.
export function judge({ expected, played, calibrated = true, clean = CLEAN }) {
  const rough = calibrated ? steadyDelay(expected, played) : 0;
  const pairs = [];
  const extra = [];
  const missed = [];
  for (const hand of ["right", "left"]) {
    const wanted = expected.filter((one) => one.hand === hand).sort((a, b) => a.time - b.time);
    const given = played.filter((one) => one.hand === hand).sort((a, b) => a.time - b.time);
    const found = matched(
      wanted.map((one) => one.time),
      given.map((one) => one.time - rough),
    );
    for (const [a, b] of found) pairs.push({ ...wanted[a], raw: (given[b].time - wanted[a].time) * 1000 });
    const met = [new Set(found.map(([a]) => a)), new Set(found.map(([, b]) => b))];
    missed.push(...wanted.filter((_, place) => !met[0].has(place)));
    extra.push(...given.filter((_, place) => !met[1].has(place)));
  }
  const offset = calibrated && pairs.length ? median(pairs.map((one) => one.raw)) : 0;
  for (const one of pairs) one.error = one.raw - offset;
  const attacks = attacksOf(expected, pairs, missed);
  const met = attacks.filter((one) => one.errors.length);
  const turns = [...new Set(expected.map((one) => one.turn))].sort((a, b) => a - b);
  return {
    offset,
    attacks,
    hands: Object.fromEntries(["right", "left"].map((hand) => [hand, summed(pairs.filter((one) => one.hand === hand))])),
    all: summed(pairs),
    missed: missed.map(({ hand, part, turn }) => ({ hand, part, turn })),
    extra: extra.map((one) => placed(one, expected, offset)),
    worst: met.length ? met.reduce((worst, one) => (one.size > worst.size ? one : worst)) : null,
    turns: turns.length,
    clean: turns.filter((turn) => isClean(turn, { pairs, missed, extra, expected, offset, clean })).length,
  };
}

const summed = (pairs) => {
  const errors = pairs.map((one) => one.error);
  return { count: errors.length, mean: errors.length ? mean(errors) : null, spread: spread(errors) };
};

// One row for each stroke of the cycle, in the order of the count; `size` is how far off it was, early or late alike.
function attacksOf(expected, pairs, missed) {
  const rows = new Map();
  const row = ({ hand, part }) => {
    const key = `${hand} ${part}`;
    if (!rows.has(key)) rows.set(key, { hand, part, errors: [], turns: [], missed: 0 });
    return rows.get(key);
  };
  for (const one of expected) row(one);
  for (const one of pairs) {
    row(one).errors.push(one.error);
    row(one).turns.push(one.turn);
  }
  for (const one of missed) row(one).missed += 1;
  for (const one of rows.values()) {
    one.mean = one.errors.length ? mean(one.errors) : null;
    one.spread = spread(one.errors);
    one.size = one.errors.length ? mean(one.errors.map(Math.abs)) : null;
  }
  return [...rows.values()].sort((a, b) => a.part - b.part || (a.hand < b.hand ? 1 : -1));
}

// Where a stroke that nothing asked for fell: after which stroke of its hand, and in which turn.
function placed({ hand, time }, expected, offset) {
  const before = expected
    .filter((one) => one.hand === hand && one.time <= time - offset / 1000)
    .sort((a, b) => b.time - a.time)[0];
  return { hand, after: before ? before.part : null, turn: before ? before.turn : 0 };
}

function isClean(turn, { pairs, missed, extra, expected, offset, clean }) {
  const mine = expected.filter((one) => one.turn === turn).map((one) => one.time);
  const next = expected.filter((one) => one.turn > turn).map((one) => one.time);
  const from = Math.min(...mine) - CLOSE;
  const until = next.length ? Math.min(...next) - CLOSE : Infinity;
  const inside = ({ time }) => time - offset / 1000 >= from && time - offset / 1000 < until;
  return (
    !missed.some((one) => one.turn === turn) &&
    !extra.some(inside) &&
    pairs.every((one) => one.turn !== turn || Math.abs(one.error) <= clean)
  );
}
