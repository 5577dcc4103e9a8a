// Lesson sheets as abc with the left hand, read by abcjs (npm): no warnings, and voices of one length.
// usage: sheet_abcjs.js MODULES UNDERSONG DEMO_SONGS
"use strict";
const { execFileSync } = require("child_process");
const fs = require("fs");
const path = require("path");
const [modules, undersong, songs] = process.argv.slice(2);
const abcjs = require(path.join(modules, "abcjs"));
const textures = ["block", "fifths", "root-run", "broken", "waltz", "roots"];
const keys = ["C", "Bb", "A", "Eb", "E", "Ab"];
let wrong = 0, count = 0;
for (const name of fs.readdirSync(songs).filter((x) => x.endsWith(".abc")))
  textures.forEach((texture, i) => {
    const words = ["sheet", path.join(songs, name), "--format", "abc", "--texture", texture, "--keys", keys[i]];
    const text = execFileSync(undersong, words, { encoding: "utf8" });
    const parsed = abcjs.parseOnly(text);
    const troubles = parsed.length === 1 ? parsed[0].warnings || [] : [`${parsed.length} tunes`];
    const tracks = parsed[0].setUpAudio({ chordsOff: true }).tracks.map((t) => t.filter((x) => x.cmd === "note"));
    const heard = tracks.filter((t) => t.length);
    const ends = heard.map((t) => Math.max(...t.map((x) => x.start + x.duration)));
    if (heard.length !== (text.includes("V:3") ? 3 : 2)) troubles.push(`${heard.length} voices`);
    if (Math.max(...ends) - Math.min(...ends) > 1) troubles.push(`voices end at ${ends}`);
    count++;
    if (!troubles.length) return;
    wrong++;
    console.log(`${words.join(" ")}: ${troubles.join("; ")}`);
  });
console.log(`${count} sheets as abc, abcjs is unhappy with ${wrong}`);
process.exit(wrong || count < 40 ? 1 : 0);
