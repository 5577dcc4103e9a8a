// Every MusicXML that we write, read by musicxml-io (npm): no error of its validator (measures, ties, tuplets,
// slurs), and in the MIDI that it makes, repeats played out, the notes that our own reader finds.
// usage: musicxml_outside.js MODULES NOTATION TUNE_NOTES FOLDER RANDOM
"use strict";
const { execFileSync } = require("child_process");
const path = require("path");
const made = require("./made_tunes.js");
const [modules, notation, tuneNotes, folder, random] = process.argv.slice(2);
const io = require(path.join(modules, "musicxml-io"));
const scratch = made.scratch();

// The notes of each track of a MIDI file that has any.
function midiTracks(bytes) {
  const view = new DataView(Uint8Array.from(bytes).buffer), ticks = view.getUint16(12), tracks = [];
  for (let at = 14; at < view.byteLength; at += 8 + view.getUint32(at + 4)) {
    let p = at + 8, now = 0, status = 0;
    const end = p + view.getUint32(at + 4), open = {}, notes = [];
    const number = () => {
      let value = 0, byte;
      do value = value * 128 + ((byte = view.getUint8(p++)) & 127); while (byte & 128);
      return value;
    };
    while (p < end) {
      now += number();
      if (view.getUint8(p) & 128) status = view.getUint8(p++);
      if (status >= 0xf0) {
        if (status === 0xff) p++;
        const length = number();
        p += length;
        continue;
      }
      const pitch = view.getUint8(p), velocity = view.getUint8(p + 1), kind = status & 0xf0;
      p += kind === 0xc0 || kind === 0xd0 ? 1 : 2;
      if (kind === 0x90 && velocity) open[pitch] = now;
      else if ((kind === 0x80 || kind === 0x90) && pitch in open) {
        notes.push([open[pitch] / ticks, (now - open[pitch]) / ticks, pitch]);
        delete open[pitch];
      }
    }
    if (notes.length) tracks.push(notes.sort((a, b) => a[0] - b[0]));
  }
  return tracks;
}

function read(text) {
  const score = io.parse(text);
  return [io.validate(score).errors.map((x) => x.message), midiTracks(io.exportMidi(score))];
}

const sources = made.files(notation, folder, random, scratch);
const write = (source) => execFileSync(notation, ["musicxml", source], { encoding: "utf8" });
const wrong = made.compare(sources, path.join(scratch, "written.musicxml"), tuneNotes, write, read);
console.log(`${sources.length} tunes written as MusicXML, musicxml-io reads ${wrong} of them otherwise`);
process.exit(wrong || sources.length < 8 ? 1 : 0);
