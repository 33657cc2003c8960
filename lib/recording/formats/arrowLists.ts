/** What a list of the metadata of an Arrow file may be nested to. */
const deepest = 64;
const [schemaHeader, dictionaryHeader, batchHeader] = [1, 2, 3];
const unionType = 14;
const magic = "ARROW1";

/**
 * Walks the metadata of an Arrow file or stream the way a reader does and holds every list in it (fields, buffers,
 * blocks) against the room there is: a reader that trusts the stated lengths would make billions of entries from a few
 * damaged bytes, or go in circles. Source: Apache Arrow columnar format, IPC streaming and file format; FlatBuffers,
 * binary format (tables, vtables, vectors).
 *
 * @param bytes the whole file
 * @param mostRows that a batch may state; a dictionary has at most as many entries as the file has bytes, or a million
 * @throws Error that says which list is too long, or where there is less than is stated
 */
export function checkArrowLists(bytes: Uint8Array, mostRows: number): void {
  const mostWords = Math.max(bytes.length, 2 ** 20);
  // Every entry of every list has bytes of its own in a sound file.
  let left = bytes.length;
  const list = (
    data: Uint8Array,
    at: number | undefined,
    stride: number,
    each?: (position: number) => void,
  ): void => {
    if (at === undefined) return;
    const base = at + int32(data, at);
    const count = int32(data, base);
    if (count <= 0) return;
    if (base < 0 || base + 4 + count * stride > data.length || count > left)
      throw new Error(`it states a list of ${count} entries, more than there is room for`);
    left -= count;
    if (each !== undefined) for (let i = 0; i < count; i += 1) each(base + 4 + i * stride);
  };
  const field = (data: Uint8Array, at: number, depth: number): void => {
    if (depth > deepest) throw new Error(`its fields are nested deeper than ${deepest}`);
    const slot = table(data, at);
    list(data, slot(14), 4, (child) => field(data, child, depth + 1));
    list(data, slot(16), 4);
    const [kind, type] = [slot(8), slot(10)];
    if (kind !== undefined && data[kind] === unionType && type !== undefined)
      list(data, table(data, type)(6), 4);
  };
  const schema = (data: Uint8Array, at: number): void => {
    const slot = table(data, at);
    list(data, slot(6), 4, (child) => field(data, child, 1));
    list(data, slot(8), 4);
  };
  const rows = (data: Uint8Array, at: number, most: number, what: string): void => {
    const count = int64(data, at);
    if (count > most) throw new Error(`it states ${count} ${what}, more than a file of its size may`);
  };
  const batch = (data: Uint8Array, at: number, most: number, what: string): void => {
    const slot = table(data, at);
    const length = slot(4);
    if (length !== undefined) rows(data, length, most, what);
    list(data, slot(6), 16, (node) => rows(data, node, most, what));
    list(data, slot(8), 16);
    list(data, slot(12), 8);
  };
  /** Checks a message; returns where the next begins, undefined at the end. */
  const message = (start: number): number | undefined => {
    let at = start;
    let length = int32(bytes, at);
    at += 4;
    if (length === -1) {
      length = int32(bytes, at);
      at += 4;
    }
    if (length === 0) return undefined;
    const head = bytes.subarray(at, at + length);
    if (length < 0 || head.length < length)
      throw new Error(
        `a message states ${length} bytes of metadata where ${Math.max(0, bytes.length - at)} are left`,
      );
    at += length;
    const slot = table(head, 0);
    const [kind, header, body] = [slot(6), slot(8), slot(10)];
    if (header === undefined) return at;
    const type = kind === undefined ? 0 : head[kind];
    if (type === schemaHeader) schema(head, header);
    else if (type === batchHeader) batch(head, header, mostRows, "rows");
    else if (type === dictionaryHeader) {
      const data = table(head, header)(6);
      if (data !== undefined) batch(head, data, Math.min(mostRows, mostWords), "words of a dictionary");
    }
    const bodyLength = body === undefined ? 0 : int64(head, body);
    return at + Math.max(0, bodyLength);
  };

  if (!magic.split("").every((letter, i) => bytes[i] === letter.charCodeAt(0))) {
    for (let at: number | undefined = 0; at !== undefined && at < bytes.length; ) at = message(at);
    return;
  }
  const end = bytes.length - (magic.length + 4);
  const slot = table(bytes, end - int32(bytes, end));
  const inside = slot(6);
  if (inside !== undefined) schema(bytes, inside);
  const blocks: number[] = [];
  const block = (at: number) => blocks.push(int64(bytes, at));
  list(bytes, slot(8), 24, block);
  const dictionaries = blocks.length;
  list(bytes, slot(10), 24, block);
  if (dictionaries * (blocks.length - dictionaries) > 1e8)
    throw new Error(
      `it states ${dictionaries} dictionaries for ${blocks.length - dictionaries} record batches`,
    );
  list(bytes, slot(12), 4);
  for (const at of blocks) if (at >= 0 && at < bytes.length) message(at);
}

/** Where each slot of a FlatBuffers table lies; undefined for one that is not there. */
function table(data: Uint8Array, at: number): (slot: number) => number | undefined {
  const position = at + int32(data, at);
  const slots = position - int32(data, position);
  const size = int16(data, slots);
  return (slot) => {
    const offset = slot < size ? int16(data, slots + slot) : 0;
    return offset === 0 ? undefined : position + offset;
  };
}

// Bytes beyond the ends count as zero, as they do for the reader.
const int16 = (data: Uint8Array, at: number): number => ((data[at] | (data[at + 1] << 8)) << 16) >> 16;
const int32 = (data: Uint8Array, at: number): number =>
  data[at] | (data[at + 1] << 8) | (data[at + 2] << 16) | (data[at + 3] << 24);
const int64 = (data: Uint8Array, at: number): number =>
  (int32(data, at) >>> 0) + int32(data, at + 4) * 2 ** 32;
