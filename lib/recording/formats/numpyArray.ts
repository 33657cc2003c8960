import type { NamedArray } from "./namedArrays.js";

/** Thrown when bytes are no array that can be read; the message says why. */
export class NotAnArray extends Error {
  override readonly name = "NotAnArray";
}

interface Field {
  readonly name: string;
  readonly code: string;
  readonly bytes: number;
  readonly little: boolean;
  readonly offset: number;
  /** Values of one field: more than one for a field that is a row itself. */
  readonly count: number;
}

interface Header {
  readonly fields: readonly Field[];
  readonly itemBytes: number;
  readonly shape: readonly number[];
  readonly byColumns: boolean;
  readonly structured: boolean;
  readonly from: number;
}

/**
 * Reads an array file (the published NPY format, versions 1 to 3): numbers of any size and byte order, moments,
 * booleans, and records of named fields. Text and objects are given as nothing.
 *
 * @param name of the array, before the names of its fields
 * @param most bytes that its numbers may take as doubles
 * @throws NotAnArray for bytes that are none, or claim more than they hold
 * @example
 * numpyArrays(bytes, "q"); // [{ name: "q", rows: 10000, columns: 12, column: ... }]
 */
export function numpyArrays(bytes: Uint8Array, name: string, most = 2 ** 31): NamedArray[] {
  const header = readHeader(bytes);
  const items = header.shape.reduce((a, b) => a * b, 1);
  if (!Number.isSafeInteger(items) || header.from + items * header.itemBytes > bytes.length)
    throw new NotAnArray(`it claims ${header.shape.join(" x ")} items, more than it holds`);
  if (items * 8 > most) throw new NotAnArray("it holds more numbers than are read at once");
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const rows = header.shape[0] ?? 1;
  const inner = header.shape.slice(1).reduce((a, b) => a * b, 1);
  return header.fields.flatMap((field): NamedArray[] => {
    const read = reader(field, view);
    if (read === undefined) return [];
    const columns = inner * field.count;
    const at = (row: number, k: number): number => {
      const item = Math.floor(k / field.count);
      const place = header.byColumns ? row + item * rows : row * inner + item;
      return header.from + place * header.itemBytes + field.offset + (k % field.count) * field.bytes;
    };
    return [
      {
        name: header.structured ? (name === "" ? field.name : `${name}.${field.name}`) : name,
        rows,
        columns,
        unit: field.code === "M" || field.code === "m" ? "s" : undefined,
        column: (k) => Float64Array.from({ length: rows }, (_, row) => read(at(row, k))),
      },
    ];
  });
}

function readHeader(bytes: Uint8Array): Header {
  if (bytes.length < 12 || bytes[0] !== 0x93 || String.fromCharCode(...bytes.subarray(1, 6)) !== "NUMPY")
    throw new NotAnArray("it does not begin as an array file does");
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const long = bytes[6] >= 2;
  const length = long ? view.getUint32(8, true) : view.getUint16(8, true);
  const from = (long ? 12 : 10) + length;
  if (length > 1 << 20 || from > bytes.length) throw new NotAnArray("its header is cut off");
  const text = new TextDecoder(bytes[6] >= 3 ? "utf-8" : "latin1").decode(
    bytes.subarray(long ? 12 : 10, from),
  );
  const shape = /'shape'\s*:\s*\(([\d,\sL]*)\)/.exec(text)?.[1];
  const fortran = /'fortran_order'\s*:\s*(True|False)/.exec(text)?.[1];
  const single = /'descr'\s*:\s*'([^']+)'/.exec(text)?.[1];
  const list = /'descr'\s*:\s*(\[[\s\S]*?\])\s*,\s*'(?:fortran_order|shape)'/.exec(text)?.[1];
  if (shape === undefined || (single === undefined && list === undefined))
    throw new NotAnArray("its header is written in a way that is not understood");
  const sizes = shape
    .split(",")
    .map((s) => s.replace("L", "").trim())
    .filter((s) => s !== "")
    .map(Number);
  const fields = single !== undefined ? [fieldOf("", single, 1, 0)] : fieldsOf(list ?? "");
  return {
    fields,
    itemBytes: fields.reduce((sum, f) => sum + f.bytes * f.count, 0),
    shape: sizes,
    byColumns: fortran === "True",
    structured: single === undefined,
    from,
  };
}

function fieldsOf(list: string): Field[] {
  const fields: Field[] = [];
  let offset = 0;
  for (const m of list.matchAll(
    /\(\s*'([^']*)'\s*,\s*'([^']+)'\s*(?:,\s*\(([\d,\s]*)\)|,\s*(\d+))?\s*,?\s*\)/g,
  )) {
    const count = (m[3] ?? m[4] ?? "1")
      .split(",")
      .filter((s) => s.trim() !== "")
      .map(Number)
      .reduce((a, b) => a * b, 1);
    const field = fieldOf(m[1], m[2], count, offset);
    // An empty name is room between fields.
    fields.push(m[1] === "" ? { ...field, code: "V" } : field);
    offset += field.bytes * count;
    if (fields.length > 2000) break;
  }
  if (fields.length === 0) throw new NotAnArray("the fields of its records are not understood");
  return fields;
}

function fieldOf(name: string, type: string, count: number, offset: number): Field {
  const m = /^([<>|=]?)([a-zA-Z?])(\d*)(\[.*\])?$/.exec(type);
  if (m === null) throw new NotAnArray(`the type "${type.slice(0, 30)}" is not understood`);
  const code = m[2] === "?" ? "b" : m[2];
  const size = m[3] === "" ? 1 : Number(m[3]);
  const bytes = code === "U" ? 4 * size : size;
  return { name, code: code + (m[4] ?? ""), bytes, little: m[1] !== ">", offset, count };
}

/** Reads one value at a byte; undefined for types that are no numbers. */
function reader(field: Field, view: DataView): ((at: number) => number) | undefined {
  const { code, bytes, little } = field;
  const kind = code[0];
  if (kind === "f" && bytes === 8) return (at) => view.getFloat64(at, little);
  if (kind === "f" && bytes === 4) return (at) => view.getFloat32(at, little);
  if (kind === "f" && bytes === 2) return (at) => half(view.getUint16(at, little));
  if ((kind === "i" || kind === "b") && bytes === 1) return (at) => view.getInt8(at);
  if (kind === "u" && bytes === 1) return (at) => view.getUint8(at);
  if (kind === "i" && bytes === 2) return (at) => view.getInt16(at, little);
  if (kind === "u" && bytes === 2) return (at) => view.getUint16(at, little);
  if (kind === "i" && bytes === 4) return (at) => view.getInt32(at, little);
  if (kind === "u" && bytes === 4) return (at) => view.getUint32(at, little);
  if (kind === "i" && bytes === 8) return (at) => Number(view.getBigInt64(at, little));
  if (kind === "u" && bytes === 8) return (at) => Number(view.getBigUint64(at, little));
  if ((kind === "M" || kind === "m") && bytes === 8) {
    const unit = /\[(\d*)([a-zμ]+)\]/.exec(code);
    const scale = { ns: 1e-9, us: 1e-6, ms: 1e-3, s: 1, m: 60, h: 3600, D: 86_400 }[unit?.[2] ?? ""];
    if (scale === undefined) return undefined;
    const step = scale * Number(unit?.[1] || 1);
    const missing = -(2n ** 63n);
    return (at) => {
      const v = view.getBigInt64(at, little);
      return v === missing ? Number.NaN : Number(v) * step;
    };
  }
  return undefined;
}

/** IEEE 754 half precision. */
function half(bits: number): number {
  const sign = bits & 0x8000 ? -1 : 1;
  const exponent = (bits >>> 10) & 0x1f;
  const fraction = bits & 0x3ff;
  if (exponent === 0) return sign * fraction * 2 ** -24;
  if (exponent === 31) return fraction === 0 ? sign * Number.POSITIVE_INFINITY : Number.NaN;
  return sign * (1 + fraction / 1024) * 2 ** (exponent - 15);
}
