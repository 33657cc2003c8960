import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { parse } from "@foxglove/rosmsg";
import { MessageWriter as Ros1Writer } from "@foxglove/rosmsg-serialization";
import { MessageWriter as Ros2Writer } from "@foxglove/rosmsg2-serialization";
import { McapWriter } from "@mcap/core";
import lz4 from "lz4-napi";
import { afterAll, describe, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";
import { seeded } from "../diagnosis/secondBench.js";
import { field, op, record, u32 } from "../house/bagRecords.js";

// The containers and the encodings are written by the public libraries for them; the bag, for which there is no writer,
// byte by byte after its published format.
const folder = mkdtempSync(join(tmpdir(), "shaftwise-messages-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const rule = "=".repeat(80);
const jointState = (time: string): string =>
  `std_msgs/Header header\nstring[] name\nfloat64[] position\nfloat64[] velocity\nfloat64[] effort\n${rule}\nMSG: std_msgs/Header\n${time} stamp\nstring frame_id\n`;
const rows = 400;
const at = (k: number): number => 1_700_000_000 + 0.01 * k;
const angle = (k: number): number => Math.sin(0.05 * k);
const rate = (k: number): number => 5 * Math.cos(0.05 * k);

function message(k: number, seconds: "sec" | "secs"): Record<string, unknown> {
  const whole = Math.floor(at(k) + 1e-9);
  const rest = Math.round(1e9 * (at(k) - whole));
  return {
    header: {
      stamp: seconds === "sec" ? { sec: whole, nanosec: rest } : { sec: whole, nsec: rest },
      frame_id: "base",
    },
    name: k % 2 === 0 ? ["hip", "knee"] : ["knee", "hip"],
    position: k % 2 === 0 ? [angle(k), 0.5] : [0.5, angle(k)],
    velocity: k % 2 === 0 ? [rate(k), 0] : [0, rate(k)],
    effort: k % 2 === 0 ? [2, 1] : [1, 2],
  };
}

const ros2 = new Ros2Writer(parse(jointState("builtin_interfaces/Time"), { ros2: true }));
const ros1Text = jointState("time");
const ros1 = new Ros1Writer(parse(ros1Text));

class Sink {
  readonly parts: Uint8Array[] = [];
  private length = 0;
  async write(bytes: Uint8Array): Promise<void> {
    this.parts.push(bytes.slice());
    this.length += bytes.length;
  }
  position(): bigint {
    return BigInt(this.length);
  }
}

interface Topic {
  readonly topic: string;
  readonly encoding: string;
  readonly schema: { readonly name: string; readonly encoding: string; readonly text: string };
  readonly data: (k: number) => Uint8Array;
}

async function mcap(topics: readonly Topic[], packed = false): Promise<Buffer> {
  const sink = new Sink();
  const writer = new McapWriter({
    writable: sink,
    useChunks: true,
    chunkSize: 8192,
    ...(packed
      ? {
          compressChunk: (bytes) => ({
            compression: "lz4",
            compressedData: new Uint8Array(lz4.compressFrameSync(Buffer.from(bytes))),
          }),
        }
      : {}),
  });
  await writer.start({ profile: "", library: "test" });
  for (const t of topics) {
    const schemaId = await writer.registerSchema({
      name: t.schema.name,
      encoding: t.schema.encoding,
      data: new TextEncoder().encode(t.schema.text),
    });
    const channelId = await writer.registerChannel({
      topic: t.topic,
      messageEncoding: t.encoding,
      schemaId,
      metadata: new Map(),
    });
    for (let k = 0; k < rows; k += 1) {
      const time = BigInt(Math.round(at(k) * 1e6)) * 1000n;
      await writer.addMessage({ channelId, sequence: k, logTime: time, publishTime: time, data: t.data(k) });
    }
  }
  await writer.end();
  return Buffer.concat(sink.parts);
}

const joints: Topic = {
  topic: "/joint_states",
  encoding: "cdr",
  schema: {
    name: "sensor_msgs/msg/JointState",
    encoding: "ros2msg",
    text: jointState("builtin_interfaces/Time"),
  },
  data: (k) => ros2.writeMessage(message(k, "sec")),
};
const wheel: Topic = {
  topic: "/wheel",
  encoding: "json",
  schema: { name: "Wheel", encoding: "jsonschema", text: "{}" },
  data: (k) =>
    new TextEncoder().encode(
      JSON.stringify({
        target_velocity: k < 50 ? 0 : 5,
        velocity: k < 50 ? 0 : 5 - Math.exp((50 - k) / 20),
        motor_current: 0.5 + 0.01 * (k % 7),
      }),
    ),
};
const picture: Topic = {
  topic: "/camera",
  encoding: "protobuf",
  schema: { name: "Image", encoding: "protobuf", text: "" },
  data: () => new Uint8Array(100),
};

async function read(name: string, bytes: Uint8Array): ReturnType<typeof readRecordings> {
  const file = join(folder, name);
  writeFileSync(file, bytes);
  return readRecordings([file]);
}

describe("MCAP", () => {
  test.each([false, true])(
    "joint states in CDR, by joint, whatever the order of their names (packed: %s)",
    async (packed) => {
      const { recordings, problems } = await read("a.mcap", await mcap([joints], packed));
      expect(problems).toEqual([]);
      expect(recordings.map((r) => r.motor)).toEqual(["hip", "knee"]);
      const [hip] = recordings;
      expect(hip.time.length).toBe(rows);
      expect(hip.time[300] - hip.time[0]).toBeCloseTo(3, 6);
      for (const k of [1, 100, 399]) {
        expect(hip.channels.position?.data[k]).toBeCloseTo(angle(k), 12);
        expect(hip.channels.speed?.data[k]).toBeCloseTo(rate(k), 12);
      }
    },
  );

  test("messages in JSON, and topics that cannot be read beside them", async () => {
    const { recordings, problems } = await read("b.mcap", await mcap([picture, wheel]));
    expect(problems).toEqual([]);
    expect(recordings.length).toBe(1);
    expect(Object.keys(recordings[0].channels)).toEqual(
      expect.arrayContaining(["speed", "speedCommand", "current"]),
    );
    expect(recordings[0].findings.find((f) => f.code === "messages-not-read")?.message).toContain("protobuf");
  });

  test("nothing of a motor: refused with what to export", async () => {
    const { recordings, problems } = await read("c.mcap", await mcap([picture]));
    expect(recordings).toEqual([]);
    expect(problems[0].message).toMatch(/no messages whose numbers can be read.*camera.*protobuf/s);
    expect(problems[0].meaning).toContain("CSV");
  });

  test("a file that breaks off is read up to there", async () => {
    const whole = await mcap([joints]);
    const { recordings } = await read("d.mcap", whole.subarray(0, Math.round(whole.length * 0.6)));
    expect(recordings.map((r) => r.motor)).toEqual(["hip", "knee"]);
    expect(recordings[0].time.length).toBeGreaterThan(0.4 * rows);
    expect(recordings[0].time.length).toBeLessThan(0.7 * rows);
    expect(recordings[0].findings.find((f) => f.code === "truncated")?.meaning).toContain("missing");
  });
});

describe("bag of ROS 1", () => {
  function bag(packing: "none" | "lz4" | "bz2"): Buffer {
    const content = Buffer.concat([
      record(
        [op(7), field("conn", u32(0)), field("topic", Buffer.from("/joint_states"))],
        Buffer.concat([
          field("type", Buffer.from("sensor_msgs/JointState")),
          field("message_definition", Buffer.from(ros1Text)),
        ]),
      ),
      ...Array.from({ length: rows }, (_, k) => {
        const whole = Math.floor(at(k) + 1e-9);
        const time = Buffer.concat([u32(whole), u32(Math.round(1e9 * (at(k) - whole)))]);
        return record(
          [op(2), field("conn", u32(0)), field("time", time)],
          ros1.writeMessage(message(k, "secs")),
        );
      }),
    ]);
    const data = packing === "lz4" ? lz4.compressFrameSync(content) : content;
    return Buffer.concat([
      Buffer.from("#ROSBAG V2.0\n"),
      record(
        [
          op(3),
          field("index_pos", Buffer.alloc(8)),
          field("conn_count", u32(1)),
          field("chunk_count", u32(1)),
        ],
        Buffer.alloc(100, 32),
      ),
      record([op(5), field("compression", Buffer.from(packing)), field("size", u32(content.length))], data),
    ]);
  }

  test.each(["none", "lz4"] as const)(
    "joint states, chunks packed by %s, without an index",
    async (packing) => {
      const { recordings, problems } = await read("a.bag", bag(packing));
      expect(problems).toEqual([]);
      expect(recordings.map((r) => r.motor)).toEqual(["hip", "knee"]);
      expect(recordings[0].channels.position?.data[201]).toBeCloseTo(angle(201), 12);
      expect(recordings[0].channels.speed?.data[201]).toBeCloseTo(rate(201), 12);
      expect(recordings[0].time[200] - recordings[0].time[0]).toBeCloseTo(2, 6);
    },
  );

  test("a packing that is not unpacked is refused with the remedy", async () => {
    const { problems } = await read("b.bag", bag("bz2"));
    expect(problems[0].message).toContain("bz2");
    expect(problems[0].message).toContain("unpack the file");
  });

  test("damage anywhere never throws", async () => {
    const random = seeded(5);
    const sources = [bag("none"), await mcap([joints])];
    for (let n = 0; n < 60; n += 1) {
      const bytes = Buffer.from(sources[n % 2]);
      for (let k = 0; k < 1 + n / 6; k += 1)
        bytes[20 + Math.floor(random() * (bytes.length - 20))] = Math.floor(256 * random());
      const { recordings, problems } = await read(`damaged${n % 2 === 0 ? ".bag" : ".mcap"}`, bytes);
      if (recordings.length === 0) expect(problems[0].message.length).toBeGreaterThan(10);
    }
  });
});
