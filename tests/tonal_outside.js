// The primary triads of all 24 keys, as undersong names and spells them, against the npm package tonal.
// usage: node tonal_outside.js NODE_MODULES PRIMARY_TRIADS
const { execFileSync } = require("child_process");
const { Chord, Key, Note } = require(process.argv[2] + "/tonal");
let checked = 0, wrong = 0;

function expect(what, ours, theirs) {
  checked++;
  if (JSON.stringify(ours) === JSON.stringify(theirs)) return;
  wrong++;
  console.log(`${what}: ours ${JSON.stringify(ours)}, tonal ${JSON.stringify(theirs)}`);
}

for (const line of execFileSync(process.argv[3], { encoding: "utf8" }).trim().split("\n")) {
  const [key, mode, role, symbol, ...classes] = line.split(" ");
  const tones = Chord.get(symbol).notes.map((note) => Note.chroma(note)).sort((a, b) => a - b);
  expect(`tones of ${symbol}`, classes.map(Number), tones);
  const chords = mode === "major" ? Key.majorKey(key).chords : Key.minorKey(key).harmonic.chords;
  const triad = chords[{ I: 0, IV: 3, V: 4 }[role]].replace(/(maj|Maj)?7$/, "");
  expect(`${role} of ${key} ${mode}`, symbol, triad);
}
console.log(`${checked} compared, ${wrong} differ`);
process.exit(wrong || checked !== 144 ? 1 : 0);
