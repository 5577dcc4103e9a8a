// Every abc that we write, read by abcjs (npm): no warnings, and the notes that our own reader finds in it.
// usage: abcjs_outside.js MODULES NOTATION TUNE_NOTES FOLDER RANDOM
"use strict";
const { execFileSync } = require("child_process");
const path = require("path");
const made = require("./made_tunes.js");
const [modules, notation, tuneNotes, folder, random] = process.argv.slice(2);
const abcjs = require(path.join(modules, "abcjs"));
const scratch = made.scratch();

// Quarter notes from the start, from its whole notes.
function theirs(tune) {
  return tune.setUpAudio({ chordsOff: true }).tracks.map((track) =>
    track.filter((x) => x.cmd === "note").map((x) => [x.start * 4, x.duration * 4, x.pitch]));
}

function read(text) {
  const parsed = abcjs.parseOnly(text);
  return [parsed.length === 1 ? parsed[0].warnings || [] : [`${parsed.length} tunes`], theirs(parsed[0])];
}

const sources = made.files(notation, folder, random, scratch);
const write = (source) => execFileSync(notation, ["abc", source], { encoding: "utf8" });
const wrong = made.compare(sources, path.join(scratch, "written.abc"), tuneNotes, write, read);
console.log(`${sources.length} tunes written as abc, abcjs reads ${wrong} of them otherwise`);
process.exit(wrong || sources.length < 8 ? 1 : 0);
