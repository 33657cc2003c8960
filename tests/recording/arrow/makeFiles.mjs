/**
 * Writes the Arrow files beside it: the same table plain, with LZ4 and with zstd buffers, as data-frame libraries write them.
 * Made once with nodejs-polars 0.26.1 (its Arrow writer is written in Rust and shares no code with the reader here):
 *
 *     npm install --no-save nodejs-polars@0.26.1 nodejs-polars-linux-x64-gnu@0.26.1 && node tests/recording/arrow/makeFiles.mjs
 */
import { fileURLToPath } from "node:url";
import { DataFrame } from "nodejs-polars";

const time = [];
const command = [];
const speed = [];
const position = [];
let w = 0;
let angle = 0;
for (let i = 0; i < 240; i += 1) {
  const amperes = i < 20 ? 0 : 2;
  w += (amperes * 300 - w * 3) * 0.002;
  angle += w * 0.002;
  time.push(i * 0.002);
  command.push(amperes);
  speed.push(i === 100 ? null : Number(((w * 60) / 2 / Math.PI).toFixed(2)));
  position.push(Math.round((angle / (2 * Math.PI)) * 4096));
}
const table = DataFrame({
  "time [s]": time,
  "i_q_ref [A]": command,
  "speed [rpm]": speed,
  "position [counts]": position,
});
for (const compression of ["uncompressed", "lz4", "zstd"])
  table.writeIPC(fileURLToPath(new URL(`columns-${compression}.arrow`, import.meta.url)), { compression });
