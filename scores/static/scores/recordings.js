// The sound library and the recorded piano: fetched when sound is first wanted, and kept.

const STROKE = 0.2; // share of its loudest at which a recorded key is taken to be struck; set by ear and by looking
const FIRST = 0.5; // seconds in which a key is loudest
export const BEFORE = 0.003; // seconds of a recording that are kept before the stroke

let library = null;
let table = null;

export function loadLibrary(address) {
  library ??= new Promise((resolve, reject) => {
    // While it loads the library starts a timer of its own in a worker made from text, which the content policy forbids.
    // Where there are no workers it does without, and nothing here needs that timer.
    const { Worker } = window;
    window.Worker = undefined;
    const script = Object.assign(document.createElement("script"), { src: address });
    script.onload = () => (window.Tone ? resolve(window.Tone) : reject(new Error("no library in the file")));
    script.onerror = () => reject(new Error("the library did not come"));
    document.head.append(script);
    const restored = () => (window.Worker = Worker);
    script.addEventListener("load", restored);
    script.addEventListener("error", restored);
  }).catch((wrong) => {
    library = null;
    throw wrong;
  });
  return library;
}

async function fetched(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(`${answer.status} for ${address}`);
  return answer;
}

export async function recordedKeys(address) {
  table ??= await (await fetched(address)).json();
  return new Map(Object.entries(table).map(([key, url]) => [Number(key), url]));
}

// Of the recorded keys those nearest to what will be struck: no other is fetched.
export function nearestOf(recorded, keys) {
  const all = [...recorded];
  const near = (key) => all.reduce((best, one) => (Math.abs(one - key) < Math.abs(best - key) ? one : best));
  return [...new Set(keys.map(near))];
}

// A recording begins with some 10 to 30 milliseconds of silence and of the hammer's way. It is cut so that the stroke
// comes `BEFORE` after its beginning, whatever the key.
export function trimmed(context, buffer) {
  const channels = Array.from({ length: buffer.numberOfChannels }, (_, place) => buffer.getChannelData(place));
  const loudness = (place) => Math.abs(channels.reduce((sum, wave) => sum + wave[place], 0));
  const until = Math.min(buffer.length, Math.round(FIRST * buffer.sampleRate));
  let loudest = 0;
  for (let place = 0; place < until; place += 1) loudest = Math.max(loudest, loudness(place));
  let stroke = 0;
  while (stroke < until && loudness(stroke) < STROKE * loudest) stroke += 1;
  const begin = stroke - Math.round(BEFORE * buffer.sampleRate);
  if (begin <= 0) return buffer;
  const cut = context.createBuffer(buffer.numberOfChannels, buffer.length - begin, buffer.sampleRate);
  channels.forEach((wave, place) => cut.copyToChannel(wave.subarray(begin), place));
  return cut;
}

export async function loadKeys(tone, context, into, addresses, onEach = () => {}) {
  await Promise.all(
    [...addresses].map(async ([key, address]) => {
      if (!into.has(key)) {
        const bytes = await (await fetched(address)).arrayBuffer();
        into.set(key, new tone.ToneAudioBuffer(trimmed(context, await context.decodeAudioData(bytes))));
      }
      onEach();
    }),
  );
}
