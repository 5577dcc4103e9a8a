// The demo tunes and made-up ones, as abc files, and how our notes of them stand to another reader's.
"use strict";
const { execFileSync } = require("child_process");
const fs = require("fs");
const os = require("os");
const path = require("path");

// A folder of its own, which is gone when the script is over, however it ends.
exports.scratch = function () {
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), "undersong-"));
  process.on("exit", () => fs.rmSync(folder, { recursive: true }));
  return folder;
};

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
function differs(mine, other) {
  if (mine.length !== other.length) return `${mine.length} notes, the other has ${other.length}`;
  for (let i = 0; i < mine.length; i++)
    if (mine[i][2] !== other[i][2] || Math.abs(mine[i][0] - other[i][0]) > 0.01)
      return `note ${i}: ${mine[i]}, the other has ${other[i]}`;
  return "";
}

// Writes each source into the file by `write`, and holds our notes of it, voice by voice, against those of `read`, which
// gives [complaints, voices]; how many sources are read otherwise.
exports.compare = function (sources, file, tuneNotes, write, read) {
  let wrong = 0;
  for (const source of sources) {
    const text = write(source);
    fs.writeFileSync(file, text);
    const [complaints, voices] = read(text);
    const mine = exports.notes(tuneNotes, file).filter((x) => x.length), other = voices.filter((x) => x.length);
    const counts = mine.length === other.length ? [] : [`${mine.length} voices, the other has ${other.length}`];
    const troubles = complaints.concat(counts, mine.map((x, v) => differs(x, other[v] || [])).filter((x) => x));
    if (!troubles.length) continue;
    wrong++;
    console.log(`${source}: ${troubles.slice(0, 4).join("; ")}\n${text.slice(0, 2000)}`);
  }
  return wrong;
};
