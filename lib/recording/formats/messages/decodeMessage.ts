/** One type of message, as a reader of definitions gives it. The first without a name is that of the message itself. */
export interface MessageDefinition {
  readonly name?: string;
  readonly definitions: readonly {
    readonly name: string;
    readonly type: string;
    readonly isArray?: boolean;
    readonly arrayLength?: number;
    readonly isComplex?: boolean;
    readonly isConstant?: boolean;
  }[];
}

/** How the values of a message are written one after the other. */
export type Encoding = "ros1" | "cdr";

/** The values of one message: numbers by their path, and lists of words (the names of joints). */
export interface MessageValues {
  readonly numbers: Map<string, number>;
  readonly lists: Map<string, readonly number[]>;
  readonly words: Map<string, readonly string[]>;
}

/** Reads the bytes of one message. */
export type Decode = (bytes: Uint8Array) => MessageValues;

/** Lists longer than this are images, scans or clouds of points, and no joints. */
const mostListed = 256;
const deepest = 6;

const sizes: Readonly<Record<string, number>> = {
  bool: 1,
  int8: 1,
  uint8: 1,
  int16: 2,
  uint16: 2,
  int32: 4,
  uint32: 4,
  float32: 4,
  int64: 8,
  uint64: 8,
  float64: 8,
  time: 8,
  duration: 8,
};

/**
 * Reads the numbers of a message by its definition, in the encoding of ROS 1 or in CDR (OMG DDS-XTypes 1.3, classic CDR
 * of version 1, either order of bytes). A library beside would build code from the definition, which comes from the
 * file; nothing here is more than read.
 *
 * @throws Error for a message that does not fit its definition
 */
export function decodeMessage(
  bytes: Uint8Array,
  definitions: readonly MessageDefinition[],
  encoding: Encoding,
): MessageValues {
  const out: MessageValues = { numbers: new Map(), lists: new Map(), words: new Map() };
  const reader = new Reader(bytes, encoding);
  const root = definitions.find((d) => d.name === undefined) ?? definitions[0];
  readFields(reader, root, definitions, "", 0, out);
  return out;
}

class Reader {
  private readonly view: DataView;
  private readonly little: boolean;
  private readonly from: number;
  at: number;

  constructor(
    bytes: Uint8Array,
    readonly encoding: Encoding,
  ) {
    this.view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.from = encoding === "cdr" ? 4 : 0;
    this.at = this.from;
    const kind = encoding === "cdr" ? this.view.getUint16(0) : 1;
    // Plain CDR, most significant byte first or last; what has parameter lists or other rules of alignment is another
    // encoding.
    if (kind > 1) throw new Error(`its encoding (CDR ${kind}) is not read`);
    this.little = kind === 1;
  }

  private align(size: number): void {
    if (this.encoding === "cdr") this.at += (size - ((this.at - this.from) % size)) % size;
  }

  length(): number {
    this.align(4);
    const n = this.view.getUint32(this.at, this.little);
    this.at += 4;
    if (n > this.view.byteLength) throw new Error("a list in it is longer than the message");
    return n;
  }

  text(): string {
    const n = this.length();
    if (this.at + n > this.view.byteLength) throw new Error("a text in it is longer than the message");
    const bytes = new Uint8Array(this.view.buffer, this.view.byteOffset + this.at, n);
    this.at += n;
    return new TextDecoder().decode(this.encoding === "cdr" && n > 0 ? bytes.subarray(0, n - 1) : bytes);
  }

  skip(type: string, count: number): void {
    if (count === 0) return;
    const size = sizes[type];
    this.align(type === "time" || type === "duration" ? 4 : size);
    this.at += size * count;
    if (this.at > this.view.byteLength) throw new Error("it is shorter than its definition");
  }

  number(type: string): number {
    const size = sizes[type];
    if (size === undefined) throw new Error(`its type ${type.slice(0, 40)} is not known`);
    this.align(type === "time" || type === "duration" ? 4 : size);
    const { view, little } = this;
    const i = this.at;
    this.at += size;
    switch (type) {
      case "float64":
        return view.getFloat64(i, little);
      case "float32":
        return view.getFloat32(i, little);
      case "int8":
        return view.getInt8(i);
      case "bool":
      case "uint8":
        return view.getUint8(i);
      case "int16":
        return view.getInt16(i, little);
      case "uint16":
        return view.getUint16(i, little);
      case "int32":
        return view.getInt32(i, little);
      case "uint32":
        return view.getUint32(i, little);
      case "int64":
        return Number(view.getBigInt64(i, little));
      case "uint64":
        return Number(view.getBigUint64(i, little));
      default:
        return (
          (type === "time" ? view.getUint32(i, little) : view.getInt32(i, little)) +
          1e-9 * view.getInt32(i + 4, little)
        );
    }
  }
}

function readFields(
  reader: Reader,
  definition: MessageDefinition,
  all: readonly MessageDefinition[],
  prefix: string,
  depth: number,
  out: MessageValues,
): void {
  if (depth > deepest) throw new Error("its definition is nested too deeply");
  for (const field of definition.definitions) {
    if (field.isConstant === true) continue;
    const path = prefix === "" ? field.name : `${prefix}.${field.name}`;
    const count = field.isArray !== true ? undefined : (field.arrayLength ?? reader.length());
    if (field.isComplex === true) {
      const inner = all.find((d) => d.name === field.type);
      if (inner === undefined) throw new Error(`its type ${field.type.slice(0, 60)} is not defined`);
      if (count !== undefined && count > mostListed)
        throw new Error("a list in it is longer than those of joints");
      for (let i = 0; i < (count ?? 1); i += 1)
        readFields(reader, inner, all, count === undefined ? path : `${path}[${i}]`, depth + 1, out);
    } else readPlain(reader, field.type, count, path, out);
  }
}

function readPlain(
  reader: Reader,
  type: string,
  count: number | undefined,
  path: string,
  out: MessageValues,
): void {
  if (type === "string") {
    if (count !== undefined && count > 4096) throw new Error("a list in it is longer than those of joints");
    const words = Array.from({ length: count ?? 1 }, () => reader.text());
    if (count !== undefined) out.words.set(path, words);
  } else if (count === undefined) out.numbers.set(path, reader.number(type));
  else if (count > mostListed) reader.skip(type, count);
  else
    out.lists.set(
      path,
      Array.from({ length: count }, () => reader.number(type)),
    );
}
