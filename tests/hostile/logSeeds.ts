import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { parse } from "@foxglove/rosmsg";
import { MessageWriter as Ros1Writer } from "@foxglove/rosmsg-serialization";
import { MessageWriter as Ros2Writer } from "@foxglove/rosmsg2-serialization";
import { McapWriter } from "@mcap/core";
import lz4 from "lz4-napi";
import { field, op, record, u32 } from "../house/bagRecords.js";
import type { Columns } from "./columns.js";
import { matElement, matMatrix, matTag } from "./encode.js";
import type { SeedFile } from "./seeds.js";

const here = join(import.meta.dirname, "../recording/files");
const binary = (ending: string, bytes: Buffer): SeedFile => ({ ending, bytes, text: false });

/**
 * Seeds of the habits that came last: messages of robots, structures, documents, lines with labels, records with tags,
 * several devices in turns; and every small file of `tests/recording/files`.
 */
export async function logSeeds(table: Columns): Promise<SeedFile[]> {
  const real = readdirSync(here)
    .filter((name) => !name.endsWith(".ts"))
    .map((name) => ({
      ending: name.slice(name.indexOf(".")),
      bytes: readFileSync(join(here, name)),
      text: name.endsWith(".csv"),
    }));
  return [
    ...real.map((seed) => ({ ...seed, ending: seed.ending.startsWith(".3.mat") ? ".mat" : seed.ending })),
    binary(".mcap", await robotMessages(table, false)),
    binary(".mcap", await robotMessages(table, true)),
    binary(".bag", bag(table, "none")),
    binary(".bag", bag(table, "lz4")),
    binary(".mat", structure(table)),
    binary(".mat", matFour(table)),
    ...textSeeds(table),
  ];
}

/** The same rows as lines and documents. */
function textSeeds({ names, data }: Columns): SeedFile[] {
  const rows = Array.from({ length: data[0].length }, (_, i) => data.map((column) => column[i]));
  const finite = rows.map((row) => row.map((v) => (Number.isNaN(v) ? 0 : v)));
  const text = (ending: string, content: string): SeedFile => binary(ending, Buffer.from(content));
  const short = ["t", "target", "current", "speed", "pos"];
  const labelled = finite.map((row) => short.map((n, k) => `${n}:${row[k] ?? 0}`).join(" "));
  const tagged = finite.flatMap((row, i) => [
    `ESC, ${row.slice(0, 4).join(", ")}`,
    ...(i % 5 === 0 ? [`TMP, ${row[0]}, 31.5`] : []),
  ]);
  const monitor = finite.map(
    (row) => `14:02:${(10 + row[0] / 100).toFixed(3)} -> ${row.slice(1, 5).join(",")}`,
  );
  const turns = finite.flatMap((row) => [
    ["left", ...row.slice(0, 4)].join(","),
    ["right", ...row.slice(0, 3), -row[3]].join(","),
  ]);
  const long = finite.flatMap((row) => names.slice(1, 5).map((n, k) => `${row[0]},${n},${row[k + 1]}`));
  const document = {
    recorder: { rate: 1000, serial: "A-7" },
    signals: names.map((name, k) => ({
      name,
      unit: k === 0 ? "s" : "A",
      values: finite.map((row) => row[k]),
    })),
  };
  const records = finite.map((row) => Object.fromEntries(names.map((name, k) => [name, row[k]])));
  return [
    text(".log", `${labelled.join("\n")}\n`),
    text(".txt", `TAG, time_ms, rpm, current\nESC, time_ms, rpm, current\n${tagged.join("\n")}\n`),
    text(".txt", `boot ok\nversion 1.2\n${monitor.join("\n")}\n`),
    { ...text(".csv", `motor,time_s,current_A,target,speed\n${turns.join("\n")}\n`), text: true },
    { ...text(".csv", `time,signal,value\n${long.join("\n")}\n`), text: true },
    text(".json", JSON.stringify(document)),
    text(".json", JSON.stringify(records)),
    text(
      ".txt",
      `${finite.map((row) => row.map((v) => v.toExponential(4).padStart(14)).join(" ")).join("\n")}\n`,
    ),
    text(
      ".txt",
      `${finite.map((row) => row.map((v) => `0x${(v & 65535).toString(16).padStart(4, "0")}`).join("\t")).join("\n")}\n`,
    ),
  ];
}

const rule = "=".repeat(80);
const definition = (time: string): string =>
  `std_msgs/Header header\nstring[] name\nfloat64[] position\nfloat64[] velocity\nfloat64[] effort\n${rule}\nMSG: std_msgs/Header\n${time} stamp\nstring frame_id\n`;

function jointState({ data }: Columns, k: number, rest: "nanosec" | "nsec"): Record<string, unknown> {
  const at = 1_700_000_000 + data[0][k];
  const whole = Math.floor(at);
  const value = (j: number): number => data[Math.min(j, data.length - 1)][k] || 0;
  return {
    header: { stamp: { sec: whole, [rest]: Math.round(1e9 * (at - whole)) }, frame_id: "base" },
    name: ["hip", "knee"],
    position: [value(4), 0.5],
    velocity: [value(3), 0],
    effort: [value(2), 1],
  };
}

/** Joint states of ROS 2 in CDR, in the open container MCAP, written by their own libraries. */
async function robotMessages(table: Columns, packed: boolean): Promise<Buffer> {
  const parts: Uint8Array[] = [];
  let size = 0n;
  const writer = new McapWriter({
    writable: {
      position: () => size,
      write: async (bytes: Uint8Array) => {
        parts.push(bytes.slice());
        size += BigInt(bytes.length);
      },
    },
    useChunks: true,
    chunkSize: 8192,
    ...(packed
      ? {
          compressChunk: (bytes: Uint8Array) => ({
            compression: "lz4",
            compressedData: new Uint8Array(lz4.compressFrameSync(Buffer.from(bytes))),
          }),
        }
      : {}),
  });
  const text = definition("builtin_interfaces/Time");
  const ros2 = new Ros2Writer(parse(text, { ros2: true }));
  await writer.start({ profile: "ros2", library: "seed" });
  const schemaId = await writer.registerSchema({
    name: "sensor_msgs/msg/JointState",
    encoding: "ros2msg",
    data: new TextEncoder().encode(text),
  });
  const channelId = await writer.registerChannel({
    topic: "/joint_states",
    messageEncoding: "cdr",
    schemaId,
    metadata: new Map(),
  });
  for (let k = 0; k < table.data[0].length; k += 2) {
    const at = BigInt(Math.round(1e9 * table.data[0][k])) + 1_700_000_000_000_000_000n;
    const data = ros2.writeMessage(jointState(table, k, "nanosec"));
    await writer.addMessage({ channelId, sequence: k, logTime: at, publishTime: at, data });
  }
  await writer.end();
  return Buffer.concat(parts);
}

/** A bag of ROS 1 after its published format 2.0: one chunk, no index. */
function bag(table: Columns, packing: "none" | "lz4"): Buffer {
  const text = definition("time");
  const ros1 = new Ros1Writer(parse(text));
  const rows = Array.from({ length: table.data[0].length >> 1 }, (_, k) => {
    const seconds = 1_700_000_000 + table.data[0][2 * k];
    const whole = Math.floor(seconds);
    const time = Buffer.concat([u32(whole), u32(Math.round(1e9 * (seconds - whole)))]);
    return record(
      [op(2), field("conn", u32(0)), field("time", time)],
      ros1.writeMessage(jointState(table, 2 * k, "nsec")),
    );
  });
  const connection = record(
    [op(7), field("conn", u32(0)), field("topic", Buffer.from("/joint_states"))],
    Buffer.concat([
      field("type", Buffer.from("sensor_msgs/JointState")),
      field("message_definition", Buffer.from(text)),
    ]),
  );
  const content = Buffer.concat([connection, ...rows]);
  const head = [
    op(3),
    field("index_pos", Buffer.alloc(8)),
    field("conn_count", u32(1)),
    field("chunk_count", u32(1)),
  ];
  const chunk = [op(5), field("compression", Buffer.from(packing)), field("size", u32(content.length))];
  return Buffer.concat([
    Buffer.from("#ROSBAG V2.0\n"),
    record(head, Buffer.alloc(100, 32)),
    record(chunk, packing === "lz4" ? lz4.compressFrameSync(content) : content),
  ]);
}

/** A MAT-file level 5 with one structure whose fields are the columns. */
function structure({ names, data }: Columns): Buffer {
  const head = Buffer.alloc(128, 0x20);
  head.write("MATLAB 5.0 MAT-file, written by a test");
  head.writeUInt16LE(0x0100, 124);
  head.write("IM", 126);
  const words = (...numbers: number[]) => Buffer.from(Uint32Array.from(numbers).buffer);
  const fields = Buffer.alloc(32 * names.length);
  for (const [k, name] of names.entries())
    fields.write((name.replace(/[^A-Za-z0-9_]/g, "_") || "x").slice(0, 31), 32 * k);
  const body = Buffer.concat([
    matElement(6, words(2, 0)),
    matElement(5, words(1, 1)),
    matElement(1, Buffer.from("run")),
    matElement(5, words(32)),
    matElement(1, fields),
    ...data.map((column) => matMatrix("", column)),
  ]);
  return Buffer.concat([head, matTag(14, body.length), body]);
}

/** A MAT-file level 4, one matrix a column. */
function matFour({ names, data }: Columns): Buffer {
  return Buffer.concat(
    names.flatMap((name, k) => {
      const label = (name.replace(/[^A-Za-z0-9_]/g, "_") || "x").slice(0, 30);
      const head = Buffer.alloc(20);
      for (const [j, v] of [0, data[k].length, 1, 0, label.length + 1].entries()) head.writeInt32LE(v, 4 * j);
      return [head, Buffer.from(`${label}\u0000`), Buffer.from(Float64Array.from(data[k]).buffer)];
    }),
  );
}
