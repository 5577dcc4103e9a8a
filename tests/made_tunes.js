// The demo tunes and made-up ones, as abc files.
"use strict";
const { execFileSync } = require("child_process");
const fs = require("fs");
const path = require("path");

exports.files = function (notation, folder, random, scratch) {
  const files = fs.readdirSync(folder).filter((x) => x.endsWith(".abc")).map((x) => path.join(folder, x));
  for (let seed = 0; seed < Number(random); seed++) {
    const file = path.join(scratch, `random-${seed}.abc`);
    fs.writeFileSync(file, execFileSync(notation, ["random", String(seed)]));
    files.push(file);
  }
  return files;
};

// [[onset, length, pitch], ...] of the melody and of the second voice, as our own readers have them.
exports.notes = function (tuneNotes, file) {
  const lines = execFileSync(tuneNotes, [file], { encoding: "utf8" }).split("\n").map((x) => x.split(" "));
  return ["note", "second"].map((what) => lines.filter((x) => x[0] === what).map((x) => x.slice(1).map(Number)));
};

// "" where the notes are the same.
exports.differs = function (mine, other) {
  if (mine.length !== other.length) return `${mine.length} notes, the other has ${other.length}`;
  for (let i = 0; i < mine.length; i++)
    if (mine[i][2] !== other[i][2] || Math.abs(mine[i][0] - other[i][0]) > 0.01)
      return `note ${i}: ${mine[i]}, the other has ${other[i]}`;
  return "";
};
