// Every abc that we write, read by abcjs (npm): no warnings, and the notes that our own reader finds in it.
// usage: abcjs_outside.js MODULES NOTATION TUNE_NOTES FOLDER RANDOM
"use strict";
const { execFileSync } = require("child_process");
const fs = require("fs");
const path = require("path");
const made = require("./made_tunes.js");
const [modules, notation, tuneNotes, folder, random] = process.argv.slice(2);
const abcjs = require(path.join(modules, "abcjs"));
const scratch = fs.mkdtempSync("/tmp/abcjs-");

// Quarter notes from the start, from its whole notes.
function theirs(tune) {
  return tune.setUpAudio({ chordsOff: true }).tracks.map((track) =>
    track.filter((x) => x.cmd === "note").map((x) => [x.start * 4, x.duration * 4, x.pitch]));
}

const sources = made.files(notation, folder, random, scratch);
let wrong = 0;
for (const source of sources) {
  const text = execFileSync(notation, ["abc", source], { encoding: "utf8" });
  const file = path.join(scratch, "written.abc");
  fs.writeFileSync(file, text);
  const parsed = abcjs.parseOnly(text);
  const warnings = parsed.length === 1 ? parsed[0].warnings || [] : [`${parsed.length} tunes`];
  const mine = made.notes(tuneNotes, file).filter((x) => x.length), other = theirs(parsed[0]);
  const troubles = warnings.concat(mine.map((x, v) => made.differs(x, other[v] || [])).filter((x) => x));
  if (!troubles.length) continue;
  wrong++;
  console.log(`${source}: ${troubles.join("; ")}\n${text}`);
}
fs.rmSync(scratch, { recursive: true });
console.log(`${sources.length} tunes written as abc, abcjs reads ${wrong} of them otherwise`);
process.exit(wrong || sources.length < 8 ? 1 : 0);
