import { type FileHandle, open, stat } from "node:fs/promises";
import type { Finding } from "../../types.js";
import { mostOfFrame } from "../arrowCodecs.js";
import type { SourceTable } from "../sourceTable.js";
import { unpackLimit, unpacksTooFar } from "../unpackLimit.js";
import type { Decode } from "./decodeMessage.js";
import { breaksOff, definedDecoder, takeMessage } from "./readMcap.js";
import { TopicTables } from "./topicTables.js";

/** Codes of records that are looked at (bag format 2.0, published by the Robot Operating System project; from
 * memory). */
const op = { message: 0x02, chunk: 0x05, connection: 0x07 } as const;
const headLength = "#ROSBAG V2.0\n".length;
const longestMessage = 65_536;
/** A header holds a few short fields; the definition of a message is in the data of its record. */
const longestHeader = 2 ** 20;

interface BagRecord {
  readonly fields: ReadonlyMap<string, Uint8Array>;
  readonly data: Uint8Array;
}

type Connections = Map<number, { readonly topic: string; readonly decode: Decode | string }>;

/**
 * The topics of a recording of messages as ROS 1 writes it (`.bag`, format 2.0), whether it has an index or not. Chunks
 * that are plain or packed by LZ4 are read; what was written before a break is kept.
 *
 * @throws CannotRead when no topic holds anything of a motor
 */
export async function readBag(path: string): Promise<SourceTable[]> {
  const [lz4, { parse }] = await Promise.all([import("lz4-napi"), import("@foxglove/rosmsg")]);
  const { size } = await stat(path);
  const tables = new TopicTables();
  const connections: Connections = new Map();
  const noticed: Finding[] = [];
  const most = unpackLimit(size);
  let unpacked = 0;
  const take = ({ fields, data }: BagRecord): void => {
    const code = fields.get("op")?.[0];
    if (code === op.connection) {
      const inner = fieldsOf(data);
      const topic = text(fields.get("topic") ?? inner.get("topic"));
      const decode = definedDecoder(text(inner.get("message_definition")), "ros1", parse);
      connections.set(number(fields.get("conn")), { topic, decode });
    } else if (code === op.message && data.length <= longestMessage) {
      const connection = connections.get(number(fields.get("conn")));
      const time = fields.get("time");
      if (connection !== undefined && time?.length === 8)
        takeMessage(tables, connection, number(time) + 1e-9 * number(time.subarray(4)), data);
    }
  };
  const file = await open(path);
  try {
    let at = headLength;
    while (at < size) {
      const { record, next } = await recordAt(file, at, size);
      at = next;
      if (record.fields.get("op")?.[0] !== op.chunk) {
        take(record);
        continue;
      }
      const packing = text(record.fields.get("compression"));
      unpacked += number(record.fields.get("size"));
      if (unpacked > most) throw unpacksTooFar(path, size);
      if (packing !== "none" && packing !== "lz4") {
        tables.damage(
          "chunks",
          `they are packed by ${packing.slice(0, 20)}; unpack the file (rosbag decompress)`,
        );
        continue;
      }
      if (packing === "lz4" && mostOfFrame(record.data) > most) throw unpacksTooFar(path, size);
      const content =
        packing === "none" ? record.data : new Uint8Array(lz4.decompressFrameSync(Buffer.from(record.data)));
      for (let inner = 0; inner < content.length; ) {
        const found = recordIn(content, inner);
        inner = found.next;
        take(found.record);
      }
    }
  } catch (error) {
    if (error instanceof Error && error.name === "CannotRead") throw error;
    noticed.push(
      breaksOff(path, error instanceof RangeError ? "a record ends before its end" : String(error)),
    );
  } finally {
    await file.close();
  }
  return tables.sources(path, "bag of ROS 1", noticed);
}

async function recordAt(
  file: FileHandle,
  at: number,
  size: number,
): Promise<{ record: BagRecord; next: number }> {
  const piece = async (from: number, length: number): Promise<Uint8Array> => {
    if (from + length > size) throw new RangeError("beyond the end");
    const bytes = new Uint8Array(length);
    await file.read(bytes, 0, length, from);
    return bytes;
  };
  const headerLength = number(await piece(at, 4));
  if (headerLength > longestHeader) throw new Error("a header is longer than any");
  const fields = fieldsOf(await piece(at + 4, headerLength));
  const dataLength = number(await piece(at + 4 + headerLength, 4));
  const from = at + 8 + headerLength;
  return { record: { fields, data: await piece(from, dataLength) }, next: from + dataLength };
}

function recordIn(bytes: Uint8Array, at: number): { record: BagRecord; next: number } {
  const headerLength = number(bytes.subarray(at, at + 4));
  const dataAt = at + 8 + headerLength;
  const fields = fieldsOf(bytes.subarray(at + 4, at + 4 + headerLength));
  const dataLength = number(bytes.subarray(dataAt - 4, dataAt));
  if (dataAt + dataLength > bytes.length) throw new RangeError("beyond the end");
  return { record: { fields, data: bytes.subarray(dataAt, dataAt + dataLength) }, next: dataAt + dataLength };
}

/** Fields `name=value` of a header. */
function fieldsOf(bytes: Uint8Array): Map<string, Uint8Array> {
  const out = new Map<string, Uint8Array>();
  for (let at = 0; at + 4 <= bytes.length; ) {
    const length = number(bytes.subarray(at, at + 4));
    const field = bytes.subarray(at + 4, at + 4 + length);
    const sign = field.indexOf(61);
    if (field.length < length || sign < 0) throw new Error("a header cannot be read");
    out.set(text(field.subarray(0, sign)), field.subarray(sign + 1));
    at += 4 + length;
  }
  return out;
}

function number(bytes: Uint8Array | undefined): number {
  if (bytes === undefined || bytes.length < 4) throw new RangeError("beyond the end");
  return new DataView(bytes.buffer, bytes.byteOffset).getUint32(0, true);
}

function text(bytes: Uint8Array | undefined): string {
  return new TextDecoder().decode(bytes);
}
