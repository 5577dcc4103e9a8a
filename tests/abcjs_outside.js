// Every abc that we write, read by abcjs (npm): no warnings, and the notes that our own reader finds in it.
// usage: abcjs_outside.js MODULES NOTATION TUNE_NOTES FOLDER RANDOM
"use strict";
const { execFileSync } = require("child_process");
const fs = require("fs");
const path = require("path");
const [modules, notation, tuneNotes, folder, random] = process.argv.slice(2);
const abcjs = require(path.join(modules, "abcjs"));
const scratch = fs.mkdtempSync("/tmp/abcjs-");

function ours(file) {
  const lines = execFileSync(tuneNotes, [file], { encoding: "utf8" }).split("\n").map((x) => x.split(" "));
  return ["note", "second"].map((what) => lines.filter((x) => x[0] === what).map((x) => x.slice(1).map(Number)));
}

// Quarter notes from the start, from its whole notes.
function theirs(tune) {
  return tune.setUpAudio({ chordsOff: true }).tracks.map((track) =>
    track.filter((x) => x.cmd === "note").map((x) => [x.start * 4, x.duration * 4, x.pitch]));
}

function differs(mine, other) {
  if (mine.length !== other.length) return `${mine.length} notes, abcjs has ${other.length}`;
  for (let i = 0; i < mine.length; i++)
    if (mine[i][2] !== other[i][2] || Math.abs(mine[i][0] - other[i][0]) > 0.01)
      return `note ${i}: ${mine[i]}, abcjs has ${other[i]}`;
  return "";
}

const sources = fs.readdirSync(folder).filter((x) => x.endsWith(".abc")).map((x) => path.join(folder, x));
for (let seed = 0; seed < Number(random); seed++) {
  const file = path.join(scratch, `random-${seed}.abc`);
  fs.writeFileSync(file, execFileSync(notation, ["random", String(seed)]));
  sources.push(file);
}
let wrong = 0;
for (const source of sources) {
  const text = execFileSync(notation, ["abc", source], { encoding: "utf8" });
  const file = path.join(scratch, "written.abc");
  fs.writeFileSync(file, text);
  const parsed = abcjs.parseOnly(text);
  const warnings = parsed.length === 1 ? parsed[0].warnings || [] : [`${parsed.length} tunes`];
  const mine = ours(file).filter((x) => x.length), other = theirs(parsed[0]);
  const troubles = warnings.concat(mine.map((x, v) => differs(x, other[v] || [])).filter((x) => x));
  if (!troubles.length) continue;
  wrong++;
  console.log(`${source}: ${troubles.join("; ")}\n${text}`);
}
fs.rmSync(scratch, { recursive: true });
console.log(`${sources.length} tunes written as abc, abcjs reads ${wrong} of them otherwise`);
process.exit(wrong || sources.length < 8 ? 1 : 0);
