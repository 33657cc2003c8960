/**
 * Reader of MAT-files level 5 (the published format "MAT-File Level 5 File Format", version 5 to 7): numeric arrays,
 * text, cells and structures, plain or compressed, either byte order. Written here because the one reader in the
 * registry carries a licence that a permissively licensed package cannot ask of its users.
 */

/** A value of a MAT-file. Arrays are column-major, as stored. */
export type MatValue =
  | { readonly kind: "numeric"; readonly size: readonly number[]; readonly data: Float64Array }
  | { readonly kind: "text"; readonly size: readonly number[]; readonly text: string }
  | {
      readonly kind: "structure";
      readonly size: readonly number[];
      /** One record per array element. */
      readonly elements: readonly Readonly<Record<string, MatValue>>[];
    }
  | { readonly kind: "cell"; readonly size: readonly number[]; readonly elements: readonly MatValue[] }
  | { readonly kind: "unsupported"; readonly size: readonly number[]; readonly what: string };

/** What a file held, and where reading stopped when it was damaged. */
export interface MatContents {
  readonly variables: ReadonlyMap<string, MatValue>;
  /** Set when the file ended or broke before its end: what was found and where. */
  readonly broken?: string;
  /** Set when a variable was left out because it takes more memory than the file may: why. */
  readonly tooLarge?: string;
}

/** Thrown when bytes are not a MAT-file level 5 at all. */
export class NotAMatFile extends Error {
  override readonly name = "NotAMatFile";
}

type Inflate = (bytes: Uint8Array, limit: number) => Uint8Array;

const dataTypes: Readonly<
  Record<number, { readonly bytes: number; readonly read: (v: DataView, at: number, le: boolean) => number }>
> = {
  1: { bytes: 1, read: (v, at) => v.getInt8(at) },
  2: { bytes: 1, read: (v, at) => v.getUint8(at) },
  3: { bytes: 2, read: (v, at, le) => v.getInt16(at, le) },
  4: { bytes: 2, read: (v, at, le) => v.getUint16(at, le) },
  5: { bytes: 4, read: (v, at, le) => v.getInt32(at, le) },
  6: { bytes: 4, read: (v, at, le) => v.getUint32(at, le) },
  7: { bytes: 4, read: (v, at, le) => v.getFloat32(at, le) },
  9: { bytes: 8, read: (v, at, le) => v.getFloat64(at, le) },
  12: { bytes: 8, read: (v, at, le) => Number(v.getBigInt64(at, le)) },
  13: { bytes: 8, read: (v, at, le) => Number(v.getBigUint64(at, le)) },
};
const miMatrix = 14;
const miCompressed = 15;
const deepest = 32;

interface Element {
  readonly type: number;
  readonly from: number;
  readonly bytes: number;
  readonly next: number;
}

/** What may still be unpacked. */
class Room {
  unpacked: number;
  private numbers: number;
  constructor(readonly limit: number) {
    this.unpacked = limit;
    this.numbers = limit;
  }

  take(bytes: number): void {
    this.numbers -= bytes;
    if (this.numbers < 0) throw new NoRoom(this.words());
  }

  /** What is left, to come back to when a variable is given up. */
  get left(): number {
    return this.numbers;
  }

  restore(left: number): void {
    this.numbers = left;
  }

  words(): string {
    return `it unpacks to more than ${Math.round(this.limit / 2 ** 20)} MiB, which no log of its size does`;
  }
}

/** A variable takes more memory than the file may. */
class NoRoom extends RangeError {}

/** What an element of a cell or a structure takes, bytes, however empty it is. */
const elementBytes = 200;
const nothing = new Float64Array(0);

/** A view on bytes with the file's byte order, every read checked against the end. */
class Reader {
  readonly view: DataView;
  constructor(
    readonly bytes: Uint8Array,
    readonly littleEndian: boolean,
    readonly room: Room,
  ) {
    this.view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  }

  element(at: number, end: number): Element {
    if (at + 8 > end) throw new RangeError(`an element tag at byte ${at} runs past the end`);
    const word = this.view.getUint32(at, this.littleEndian);
    const small = word >>> 16;
    if (small !== 0) {
      if (small > 4) throw new RangeError(`a small element of ${small} bytes at byte ${at}`);
      return { type: word & 0xffff, from: at + 4, bytes: small, next: at + 8 };
    }
    const bytes = this.view.getUint32(at + 4, this.littleEndian);
    if (at + 8 + bytes > end) {
      throw new RangeError(`an element of ${bytes} bytes at byte ${at} runs past the end`);
    }
    const padded = word === miCompressed ? bytes : Math.ceil(bytes / 8) * 8;
    return { type: word, from: at + 8, bytes, next: Math.min(end, at + 8 + padded) };
  }

  numbers(element: Element, most = Number.POSITIVE_INFINITY): Float64Array {
    const kind = dataTypes[element.type];
    if (kind === undefined)
      throw new RangeError(`data type ${element.type} at byte ${element.from} is not numeric`);
    const count = Math.min(most, Math.floor(element.bytes / kind.bytes));
    this.room.take(8 * count);
    const out = new Float64Array(count);
    for (let i = 0; i < count; i += 1)
      out[i] = kind.read(this.view, element.from + i * kind.bytes, this.littleEndian);
    return out;
  }

  text(element: Element): string {
    const part = this.bytes.subarray(element.from, element.from + element.bytes);
    if (element.type === 16 || element.type === 1 || element.type === 2)
      return new TextDecoder("utf-8").decode(part);
    return String.fromCodePoint(...this.numbers(element, 65536));
  }
}

/**
 * Reads a MAT-file level 5. A file cut short gives what stood before the break, with `broken` set.
 *
 * @param bytes the whole file
 * @param inflate decompresses zlib data, refusing more than `limit` bytes (pass Node's `inflateSync` with
 * `maxOutputLength`)
 * @param limit most bytes that all compressed variables together may unfold to, and that all numbers may take as
 * doubles (a guard against
 *   files made to flood a machine)
 * @throws NotAMatFile when the header is not that of a MAT-file level 5
 * @example
 * const { variables } = readMatFile(bytes, (part, limit) => inflateSync(part, { maxOutputLength: limit }));
 * variables.get("data"); // { kind: "numeric", size: [20000, 7], data: Float64Array }
 */
export function readMatFile(bytes: Uint8Array, inflate: Inflate, limit = 2 ** 31): MatContents {
  if (bytes.length < 128)
    throw new NotAMatFile(`the file has ${bytes.length} bytes, fewer than the 128 of a header`);
  const mark = String.fromCharCode(bytes[126], bytes[127]);
  if (mark !== "IM" && mark !== "MI") throw new NotAMatFile("the byte-order mark at byte 126 is missing");
  const littleEndian = mark === "IM";
  const version = new DataView(bytes.buffer, bytes.byteOffset + 124, 2).getUint16(0, littleEndian);
  if (version >>> 8 !== 1) throw new NotAMatFile(`version 0x${version.toString(16)} is not level 5`);
  const variables = new Map<string, MatValue>();
  const file = new Reader(bytes, littleEndian, new Room(limit));
  let at = 128;
  let [tooLarge, where]: (string | undefined)[] = [];
  while (at < bytes.length) {
    const { left } = file.room;
    let next: number | undefined;
    try {
      const element = file.element(at, bytes.length);
      next = element.next;
      const [reader, matrix] = unfold(file, element, inflate);
      if (matrix.type === miMatrix) {
        const { name, value } = readMatrix(reader, matrix, 0);
        // A nameless variable holds the writer's own bookkeeping (objects of classes), not data.
        if (name !== "") variables.set(name, value);
      }
      at = element.next;
    } catch (error) {
      if (error instanceof NoRoom && next !== undefined) {
        file.room.restore(left);
        tooLarge = error.message;
        where ??= `at byte ${at} of ${bytes.length}: ${error.message}`;
        at = next;
        continue;
      }
      return { variables, tooLarge, broken: `at byte ${at} of ${bytes.length}: ${(error as Error).message}` };
    }
  }
  return variables.size === 0 ? { variables, tooLarge, broken: where } : { variables, tooLarge };
}

function unfold(file: Reader, element: Element, inflate: Inflate): [Reader, Element] {
  if (element.type !== miCompressed) return [file, element];
  let plain: Uint8Array;
  try {
    plain = inflate(file.bytes.subarray(element.from, element.from + element.bytes), file.room.unpacked);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === "ERR_BUFFER_TOO_LARGE") throw new NoRoom(file.room.words());
    throw error;
  }
  file.room.unpacked = Math.max(1, file.room.unpacked - plain.length);
  const reader = new Reader(plain, file.littleEndian, file.room);
  return [reader, reader.element(0, plain.length)];
}

function readMatrix(reader: Reader, matrix: Element, depth: number): { name: string; value: MatValue } {
  if (depth > deepest) throw new RangeError(`values nested more than ${deepest} deep`);
  if (depth > 0) reader.room.take(elementBytes);
  const end = matrix.from + matrix.bytes;
  if (matrix.bytes === 0) return { name: "", value: { kind: "numeric", size: [0, 0], data: nothing } };
  const flags = reader.element(matrix.from, end);
  const word = reader.view.getUint32(flags.from, reader.littleEndian);
  const kind = word & 0xff;
  const dims = reader.element(flags.next, end);
  const size = Array.from(reader.numbers(dims, 32));
  const count = size.reduce((a, b) => a * b, 1);
  const nameElement = reader.element(dims.next, end);
  const name = reader.text(nameElement);
  if (!Number.isSafeInteger(count) || count < 0)
    throw new RangeError(`"${name}" claims the size ${size.join(" x ")}`);
  return { name, value: readBody(reader, kind, size, count, nameElement.next, end, depth) };
}

function readBody(
  reader: Reader,
  kind: number,
  size: readonly number[],
  count: number,
  from: number,
  end: number,
  depth: number,
): MatValue {
  if (kind >= 6 && kind <= 15) {
    if (count === 0) return { kind: "numeric", size, data: nothing };
    const data = reader.numbers(reader.element(from, end), count);
    if (data.length < count) throw new RangeError(`${count} numbers announced, ${data.length} present`);
    return { kind: "numeric", size, data };
  }
  if (kind === 4) {
    return { kind: "text", size, text: count === 0 ? "" : reader.text(reader.element(from, end)) };
  }
  if (kind === 1) {
    const elements: MatValue[] = [];
    let at = from;
    for (let i = 0; i < count; i += 1) {
      const part = reader.element(at, end);
      elements.push(readMatrix(reader, part, depth + 1).value);
      at = part.next;
    }
    return { kind: "cell", size, elements };
  }
  if (kind === 2) return readStructure(reader, size, count, from, end, depth);
  return {
    kind: "unsupported",
    size,
    what: kind === 5 ? "sparse array" : kind === 3 ? "object" : `class ${kind}`,
  };
}

function readStructure(
  reader: Reader,
  size: readonly number[],
  count: number,
  from: number,
  end: number,
  depth: number,
): MatValue {
  const lengthElement = reader.element(from, end);
  const nameLength = reader.numbers(lengthElement, 1)[0];
  const namesElement = reader.element(lengthElement.next, end);
  if (!(nameLength > 0)) throw new RangeError("a structure without a field name length");
  const names: string[] = [];
  for (let at = 0; at + nameLength <= namesElement.bytes; at += nameLength) {
    const part = reader.bytes.subarray(namesElement.from + at, namesElement.from + at + nameLength);
    const zero = part.indexOf(0);
    names.push(new TextDecoder().decode(zero < 0 ? part : part.subarray(0, zero)));
  }
  if (names.length === 0) return { kind: "structure", size, elements: [] };
  const elements: Record<string, MatValue>[] = [];
  let at = namesElement.next;
  for (let i = 0; i < count; i += 1) {
    const record: Record<string, MatValue> = Object.create(null);
    for (const name of names) {
      const part = reader.element(at, end);
      record[name] = readMatrix(reader, part, depth + 1).value;
      at = part.next;
    }
    elements.push(record);
  }
  return { kind: "structure", size, elements };
}
