import { deflateSync, gunzipSync, gzipSync, inflateRawSync, inflateSync } from "node:zlib";
import { type Random, seeded } from "./mutate.js";
import type { SeedFile } from "./seeds.js";
import { zipOf } from "./zipOf.js";

/**
 * Damage that knows the format: lengths, counts, offsets and types are set to what a hostile writer would set them to,
 * inside packed parts too, with checksums and outer lengths put right, so that the reader gets as far as possible.
 */

/** A number within a file. */
interface Field {
  readonly at: number;
  readonly size: 1 | 2 | 4 | 8;
  readonly big?: boolean;
}

const pick = <T>(random: Random, values: readonly T[]): T => values[Math.floor(random() * values.length)];

function get(bytes: Buffer, { at, size, big }: Field): bigint {
  let value = 0n;
  for (let k = 0; k < size; k += 1)
    value = (value << 8n) | BigInt(bytes[big ? at + k : at + size - 1 - k] ?? 0);
  return value;
}

function set(bytes: Buffer, { at, size, big }: Field, value: bigint): void {
  for (let k = 0; k < size && at + k < bytes.length; k += 1) {
    const shift = BigInt(8 * (big ? size - 1 - k : k));
    bytes[at + k] = Number((value >> shift) & 255n);
  }
}

/** Sets one to three fields to extremes, to one another's values, to their own place, or near what they were. */
function disturb(bytes: Buffer, fields: readonly Field[], random: Random): Buffer {
  const out = Buffer.from(bytes);
  if (fields.length === 0) return out;
  const times = 1 + Math.floor(random() * 3);
  for (let i = 0; i < times; i += 1) {
    const field = pick(random, fields);
    const now = get(out, field);
    const top = 1n << BigInt(8 * field.size);
    const values = [
      0n,
      1n,
      top - 1n,
      top / 2n,
      top / 2n - 1n,
      now + 1n,
      now - 1n,
      now * 2n,
      now * 1000n,
      now >> 1n,
      BigInt(field.at),
      BigInt(out.length),
      BigInt(out.length) - BigInt(field.at),
      10_000_000n,
      get(out, pick(random, fields)),
      now ^ (1n << BigInt(Math.floor(random() * 8 * field.size))),
    ];
    set(out, field, ((pick(random, values) % top) + top) % top);
  }
  return out;
}

/** Words that look like an offset or a count: not zero, and no larger than the file. */
function wordsLikePlaces(bytes: Buffer, size: 4 | 8, step: number): Field[] {
  const found: Field[] = [];
  for (let at = 0; at + size <= bytes.length; at += step) {
    const value = get(bytes, { at, size });
    if ((value > 0n && value <= BigInt(bytes.length)) || value === (1n << BigInt(8 * size)) - 1n)
      found.push({ at, size });
  }
  return found;
}

/** Small words in front of and behind each mark of a part. */
function aroundMarks(bytes: Buffer, marks: readonly string[], length: number): Field[] {
  const found: Field[] = [];
  for (const mark of marks) {
    for (let at = bytes.indexOf(mark, 0, "latin1"); at >= 0; at = bytes.indexOf(mark, at + 1, "latin1")) {
      for (let k = mark.length; k < length; k += 2) {
        for (const size of [1, 2, 4, 8] as const)
          if (at + k + size <= bytes.length) found.push({ at: at + k, size });
      }
    }
  }
  return found;
}

/** Lengths and types of the elements of a MAT-file level 5, also within matrices. */
function matFields(bytes: Buffer, from: number, to: number, depth: number): Field[] {
  const found: Field[] = [];
  for (let at = from; at + 8 <= to; ) {
    const type = bytes.readUInt32LE(at);
    const length = bytes.readUInt32LE(at + 4);
    found.push({ at, size: 4 }, { at: at + 4, size: 4 });
    if (type === 14 && depth < 6)
      found.push(...matFields(bytes, at + 8, Math.min(to, at + 8 + length), depth + 1));
    else if (length <= 64) for (let k = 8; k < 8 + length; k += 4) found.push({ at: at + k, size: 4 });
    at += type > 0xffff ? 8 : 8 + Math.ceil(length / 8) * 8;
  }
  return found;
}

function mat(bytes: Buffer, random: Random): Buffer {
  if (bytes.readUInt16LE(126) !== 0x4d49)
    return disturb(bytes, wordsLikePlaces(bytes, 4, 4).slice(0, 200), random);
  const parts: Buffer[] = [bytes.subarray(0, 128)];
  const packed: number[] = [];
  for (let at = 128; at + 8 <= bytes.length; ) {
    const length = bytes.readUInt32LE(at + 4);
    if (bytes.readUInt32LE(at) === 15) packed.push(parts.length);
    parts.push(bytes.subarray(at, at + 8 + length));
    at += 8 + length;
  }
  if (packed.length === 0) return disturb(bytes, matFields(bytes, 128, bytes.length, 0), random);
  const k = pick(random, packed);
  const inner = inflateSync(parts[k].subarray(8));
  const small = deflateSync(disturb(inner, matFields(inner, 0, inner.length, 0), random));
  const tag = Buffer.from(parts[k].subarray(0, 8));
  tag.writeUInt32LE(small.length, 4);
  parts[k] = Buffer.concat([tag, small]);
  return Buffer.concat(parts);
}

/** The numbers of variable length in a footer: one of them becomes another, and the stated length of the footer fits
 * again. */
function parquet(bytes: Buffer, random: Random): Buffer {
  const length = bytes.readUInt32LE(bytes.length - 8);
  const start = bytes.length - 8 - length;
  let footer = bytes.subarray(start, start + length);
  for (let i = 0; i < 1 + random() * 3; i += 1) {
    const at = Math.floor(random() * footer.length);
    const put = pick(random, [
      Buffer.from([0xff, 0xff, 0xff, 0xff, 0x0f]),
      Buffer.from([0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x01]),
      Buffer.from([0x80, 0xad, 0xe2, 0x04]),
      Buffer.from([0]),
      Buffer.from([1]),
      Buffer.from([footer[at] ^ (1 << Math.floor(random() * 8))]),
    ]);
    footer = Buffer.concat([footer.subarray(0, at), put, footer.subarray(at + 1)]);
  }
  const end = Buffer.alloc(4);
  end.writeUInt32LE(footer.length);
  const pages =
    random() < 0.3 ? disturb(bytes.subarray(0, start), allBytes(40), random) : bytes.subarray(0, start);
  return Buffer.concat([pages, footer, end, Buffer.from("PAR1")]);
}

const allBytes = (length: number): Field[] =>
  Array.from({ length }, (_, at) => ({ at: at + 4, size: 1 as const }));

/** Records of the open container MCAP: an operation of one byte, a length of eight, then the record. */
function mcapFields(bytes: Buffer): Field[] {
  const found: Field[] = [];
  for (let at = 8; at + 9 <= bytes.length; ) {
    const length = Number(get(bytes, { at: at + 1, size: 8 }));
    found.push({ at, size: 1 }, { at: at + 1, size: 8 });
    for (let k = 0; k < Math.min(length, 48); k += 1)
      found.push({ at: at + 9 + k, size: k % 8 === 0 ? 8 : 4 });
    at += 9 + length;
  }
  return found;
}

/** Lengths of headers, of their fields and of the data in a bag. */
function bagFields(bytes: Buffer): Field[] {
  const found: Field[] = [];
  for (let at = 13; at + 4 <= bytes.length; ) {
    const header = bytes.readUInt32LE(at);
    for (let k = at + 4; k + 4 <= Math.min(bytes.length, at + 4 + header); ) {
      const length = bytes.readUInt32LE(k);
      const value = bytes.indexOf("=", k) + 1;
      found.push({ at: k, size: 4 });
      for (let j = value; j + 4 <= k + 4 + length; j += 4) found.push({ at: j, size: 4 });
      k += 4 + length;
    }
    const data = at + 4 + header;
    if (data + 4 > bytes.length) break;
    found.push({ at, size: 4 }, { at: data, size: 4 });
    for (let k = 4; k < 404; k += 4) if (data + k + 4 <= bytes.length) found.push({ at: data + k, size: 4 });
    at = data + 4 + bytes.readUInt32LE(data);
  }
  return found;
}

/** Damages a member of a zip file and packs it again; or damages the lists of members themselves. */
function zip(bytes: Buffer, random: Random): Buffer {
  const marks = ["PK\u0001\u0002", "PK\u0003\u0004", "PK\u0005\u0006"];
  if (random() < 0.4) return disturb(bytes, aroundMarks(bytes, marks, 46), random);
  const members: { name: string; content: Buffer }[] = [];
  const end = bytes.lastIndexOf("PK\u0005\u0006", undefined, "latin1");
  let at = bytes.readUInt32LE(end + 16);
  for (let k = 0; k < bytes.readUInt16LE(end + 10); k += 1) {
    const [name, extra, note] = [28, 30, 32].map((from) => bytes.readUInt16LE(at + from));
    const local = bytes.readUInt32LE(at + 42);
    const from = local + 30 + bytes.readUInt16LE(local + 26) + bytes.readUInt16LE(local + 28);
    const packed = bytes.subarray(from, from + bytes.readUInt32LE(at + 20));
    members.push({
      name: bytes.toString("utf8", at + 46, at + 46 + name),
      content: bytes.readUInt16LE(at + 10) === 8 ? inflateRawSync(packed) : Buffer.from(packed),
    });
    at += 46 + name + extra + note;
  }
  const large = members.filter(({ content }) => content.length > 0);
  const chosen = pick(random, large);
  chosen.content = /\.(xml|rels)$/.test(chosen.name)
    ? words(chosen.content, random)
    : inside(chosen.name, chosen.content, random);
  if (random() < 0.1) members.push(chosen);
  return zipOf(...members);
}

/** Numbers and names within a text of marks (XML, JSON, a heading) replaced, repeated, nested. */
function words(bytes: Buffer, random: Random): Buffer {
  let text = bytes.toString("latin1");
  for (let i = 0; i < 1 + random() * 3; i += 1) {
    const places = [...text.matchAll(/\d+|"[^"]{1,40}"|<[/a-z][^>]{0,200}>|[[\]{}]/gi)];
    if (places.length === 0) break;
    const place = pick(random, places.slice(0, random() < 0.5 ? 60 : places.length));
    const now = place[0];
    const put = pick(random, [
      "0",
      "-1",
      "1048576",
      "99999999999999999999",
      "1e308",
      "XFD1048576",
      '"__proto__"',
      '"NaN"',
      "null",
      "[".repeat(2000),
      '{"a":'.repeat(500),
      now.repeat(300),
      "",
      pick(random, places)[0],
    ]);
    text = text.slice(0, place.index) + put + text.slice(place.index + now.length);
  }
  return Buffer.from(text, "latin1");
}

function tar(bytes: Buffer, random: Random): Buffer {
  const out = Buffer.from(bytes);
  const heads: number[] = [];
  for (let at = 0; at + 512 <= out.length && out[at] !== 0; ) {
    heads.push(at);
    at += 512 + Math.ceil(Number.parseInt(out.toString("latin1", at + 124, at + 135), 8) / 512) * 512;
  }
  const at = pick(random, heads);
  const [from, length] = pick(random, [
    [124, 12],
    [156, 1],
    [0, 100],
    [157, 100],
    [345, 155],
    [100, 8],
  ] as const);
  const text = pick(random, [
    "77777777777",
    "0",
    "-1",
    "\u0080\u00ff\u00ff\u00ff",
    "../../../x",
    "x",
    "L",
    "2",
    "S",
    "g",
    "/",
  ]);
  out.fill(0, at + from, at + from + length);
  out.write(text.slice(0, length), at + from, "latin1");
  out.write("        ", at + 148, "latin1");
  const sum = out.subarray(at, at + 512).reduce((a, b) => a + b, 0);
  out.write(`${sum.toString(8).padStart(6, "0")}\u0000 `, at + 148, "latin1");
  return out;
}

function npy(bytes: Buffer, random: Random): Buffer {
  const length = bytes.readUInt16LE(8);
  if (random() < 0.2) return disturb(bytes, allBytes(8), random);
  const head = words(bytes.subarray(10, 10 + length), random).subarray(0, 60_000);
  const out = Buffer.concat([bytes.subarray(0, 10), head, bytes.subarray(10 + length)]);
  out.writeUInt16LE(head.length, 8);
  return out;
}

const hdfMarks = [
  "\u0089HDF",
  "TREE",
  "HEAP",
  "SNOD",
  "OHDR",
  "OCHK",
  "FRHP",
  "FHDB",
  "BTHD",
  "BTLF",
  "GCOL",
];

/** Damages what an ending says is inside. */
function inside(name: string, bytes: Buffer, random: Random): Buffer {
  const ending = name.slice(name.search(/(\.[a-z0-9]+){1,2}$/i)).toLowerCase();
  if (ending.endsWith(".gz"))
    return random() < 0.3
      ? disturb(bytes, [...allBytes(8), { at: bytes.length - 4, size: 4 }], random)
      : gzipSync(inside(name.slice(0, -3), gunzipSync(bytes), random));
  if (ending.endsWith(".zst")) return disturb(bytes, allBytes(24), random);
  if (/xlsx|ods|zip|npz/.test(ending)) return zip(bytes, random);
  if (ending.endsWith(".tar")) return tar(bytes, random);
  if (ending.endsWith(".npy")) return npy(bytes, random);
  if (ending.endsWith(".mcap")) return disturb(bytes, mcapFields(bytes), random);
  if (ending.endsWith(".bag")) return disturb(bytes, bagFields(bytes), random);
  if (ending.endsWith(".parquet")) return parquet(bytes, random);
  if (ending.endsWith(".arrow")) return disturb(bytes, wordsLikePlaces(bytes, 4, 4), random);
  if (ending.endsWith(".xls")) return disturb(bytes, wordsLikePlaces(bytes.subarray(0, 4096), 4, 2), random);
  if (/h5$/.test(ending) || bytes.includes("\u0089HDF", 0, "latin1"))
    return random() < 0.5
      ? disturb(bytes, aroundMarks(bytes, hdfMarks, 96), random)
      : disturb(bytes, wordsLikePlaces(bytes, 8, 8), random);
  if (ending.endsWith(".mat")) return mat(bytes, random);
  return words(bytes, random);
}

/** The damaged file of a number. */
export function structured(
  seeds: readonly SeedFile[],
  number: number,
): { bytes: Buffer; did: string[]; ending: string } {
  const seed = seeds[number % seeds.length];
  const random = seeded(number ^ 0x57a7);
  let bytes: Buffer;
  try {
    bytes = inside(`seed${seed.ending}`, seed.bytes, random);
  } catch {
    // A seed that is cut off itself has no parts to take apart.
    bytes = disturb(seed.bytes, allBytes(200), random);
  }
  return { bytes, did: [`structure of ${seed.ending}`], ending: seed.ending };
}
