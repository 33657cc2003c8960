import { createReadStream } from "node:fs";
import { stat } from "node:fs/promises";
import { visible } from "../../../units/text.js";
import type { Finding } from "../../types.js";
import { mostOfFrame } from "../arrowCodecs.js";
import { CannotRead, type SourceTable } from "../sourceTable.js";
import { unpackLimit, unpacksTooFar } from "../unpackLimit.js";
import {
  type Decode,
  decodeMessage,
  type Encoding,
  type MessageDefinition,
  type MessageValues,
} from "./decodeMessage.js";
import { TopicTables } from "./topicTables.js";

/** Messages longer than this are images or clouds of points. */
const longestMessage = 65_536;

interface Channel {
  readonly topic: string;
  readonly decode: Decode | string;
}

/**
 * The topics of a recording of messages in the container MCAP (version 0 of its published specification): messages in
 * JSON, in CDR with definitions of ROS 2, and in the encoding of ROS 1. What was written before a break is read.
 *
 * @throws CannotRead when no topic holds anything of a motor
 */
export async function readMcap(path: string): Promise<SourceTable[]> {
  const [{ McapStreamReader }, { decompress }, lz4, { parse }] = await Promise.all([
    import("@mcap/core"),
    import("fzstd"),
    import("lz4-napi"),
    import("@foxglove/rosmsg"),
  ]);
  const { size } = await stat(path);
  const most = unpackLimit(size);
  let unpacked = 0;
  const take = (stated: bigint): number => {
    unpacked += Number(stated);
    if (unpacked > most) throw unpacksTooFar(path, size);
    return Number(stated);
  };
  const reader = new McapStreamReader({
    validateCrcs: false,
    decompressHandlers: {
      zstd: (bytes, stated) => decompress(bytes, new Uint8Array(take(stated))),
      lz4: (bytes, stated) => {
        take(stated);
        if (mostOfFrame(bytes) > most) throw unpacksTooFar(path, size);
        return new Uint8Array(lz4.decompressFrameSync(Buffer.from(bytes)));
      },
    },
  });
  const schemas = new Map<number, { name: string; encoding: string; data: Uint8Array }>();
  const channels = new Map<number, Channel>();
  const tables = new TopicTables();
  const noticed: Finding[] = [];
  try {
    for await (const chunk of createReadStream(path, { highWaterMark: 2 ** 20 })) {
      reader.append(chunk as Uint8Array);
      for (let record = reader.nextRecord(); record !== undefined; record = reader.nextRecord()) {
        if (record.type === "Schema") schemas.set(record.id, record);
        else if (record.type === "Channel") {
          const { topic, messageEncoding, schemaId } = record;
          channels.set(record.id, {
            topic,
            decode: decoderOf(messageEncoding, schemas.get(schemaId), parse),
          });
        } else if (record.type === "Message") {
          const channel = channels.get(record.channelId);
          if (channel === undefined || record.data.length > longestMessage) continue;
          takeMessage(tables, channel, Number(record.logTime) / 1e9, record.data);
        }
      }
    }
    if (!reader.done()) noticed.push(breaksOff(path, "it has no end"));
  } catch (error) {
    if (error instanceof CannotRead) throw error;
    noticed.push(breaksOff(path, error instanceof Error ? error.message : String(error)));
  }
  return tables.sources(path, "MCAP", noticed);
}

/** Reads one message into the tables, or counts it as damaged. */
export function takeMessage(
  tables: TopicTables,
  { topic, decode }: Channel,
  time: number,
  data: Uint8Array,
): void {
  if (typeof decode === "string") {
    tables.damage(topic, decode);
    return;
  }
  try {
    tables.add(topic, time, decode(data));
  } catch (error) {
    tables.damage(topic, error instanceof RangeError ? "it is shorter than its definition" : error);
  }
}

export function breaksOff(file: string, why: string): Finding {
  return {
    severity: "warning",
    code: "truncated",
    message: `the recording is damaged or breaks off (${visible(why, 120)}); it was read up to there`,
    meaning: "what came after is missing",
    file,
  };
}

type Parse = (definition: string, options?: { ros2?: boolean }) => MessageDefinition[];

function decoderOf(
  encoding: string,
  schema: { readonly encoding: string; readonly data: Uint8Array } | undefined,
  parse: Parse,
): Decode | string {
  if (encoding === "json") return jsonValues;
  if (
    (encoding === "cdr" && schema?.encoding === "ros2msg") ||
    (encoding === "ros1" && schema?.encoding === "ros1msg")
  )
    return definedDecoder(new TextDecoder().decode(schema.data), encoding, parse);
  const of = schema === undefined || schema.encoding === "" ? "" : ` with definitions in ${schema.encoding}`;
  return `messages in ${encoding === "" ? "an encoding of their own" : encoding}${of} are not read`;
}

/** A decoder by a definition as text, or why there is none. */
export function definedDecoder(definition: string, encoding: Encoding, parse: Parse): Decode | string {
  try {
    const definitions = parse(definition, { ros2: encoding === "cdr" });
    return (bytes) => decodeMessage(bytes, definitions, encoding);
  } catch (error) {
    return `its definition cannot be read (${error instanceof Error ? error.message.slice(0, 80) : "error"})`;
  }
}

function jsonValues(bytes: Uint8Array): MessageValues {
  const out: MessageValues = { numbers: new Map(), lists: new Map(), words: new Map() };
  collect(JSON.parse(new TextDecoder().decode(bytes)), "", 0, out);
  return out;
}

function collect(value: unknown, path: string, depth: number, out: MessageValues): void {
  if (typeof value === "number") out.numbers.set(path, value);
  else if (typeof value === "boolean") out.numbers.set(path, value ? 1 : 0);
  else if (Array.isArray(value)) {
    if (value.every((v) => typeof v === "number") && value.length <= 256) out.lists.set(path, value);
    else if (value.every((v) => typeof v === "string")) out.words.set(path, value);
  } else if (typeof value === "object" && value !== null && depth < 6) {
    const { sec, nsec, nanosec } = value as Record<string, unknown>;
    const rest = nsec ?? nanosec;
    if (typeof sec === "number" && typeof rest === "number") out.numbers.set(path, sec + 1e-9 * rest);
    else
      for (const [key, inner] of Object.entries(value))
        collect(inner, path === "" ? key : `${path}.${key}`, depth + 1, out);
  }
}
