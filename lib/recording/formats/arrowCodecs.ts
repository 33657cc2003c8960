import { CompressionType, setCompressionCodec } from "@uwdata/flechette";

/** Most bytes that one compressed buffer of an Arrow file may unpack to. */
const mostUnpacked = 2 ** 31 - 1;

/** What the buffers of the file being read may still unpack to. */
let left = mostUnpacked;

/** Runs a reading (which does not wait for anything) whose compressed buffers may unpack to `most` bytes in all. */
export function unpackingAtMost<T>(most: number, read: () => T): T {
  left = most;
  try {
    return read();
  } finally {
    left = mostUnpacked;
  }
}

let registered: Promise<void> | undefined;

/**
 * Makes the Arrow reader understand compressed buffers: LZ4 frames, which data-frame libraries write by default, and
 * zstd. A buffer states its unpacked length, which is held against what comes out, so a small file cannot unpack
 * without bound. Source: Apache Arrow columnar format, "Compression" of IPC buffers (BodyCompression, method BUFFER).
 */
export function registerArrowCodecs(): Promise<void> {
  registered ??= (async () => {
    const [lz4, zstd] = await Promise.all([import("lz4-napi"), import("fzstd")]);
    const decoder = (unpack: (packed: Uint8Array, room: Uint8Array) => number) => ({
      encode: (): Uint8Array => {
        throw new Error("compressed Arrow files are read, not written");
      },
      decode: (packed: Uint8Array, length?: number): Uint8Array => {
        if (length === undefined || !(length >= 0 && length <= mostUnpacked))
          throw new Error(`a compressed buffer states an impossible length (${length} bytes)`);
        if (length > left) throw new Error("its buffers unpack to more than a file of its size may");
        left -= length;
        const room = new Uint8Array(length);
        const got = unpack(packed, room);
        if (got !== length)
          throw new Error(`a compressed buffer unpacks to ${got} bytes where ${length} are stated`);
        return room;
      },
    });
    setCompressionCodec(
      CompressionType.LZ4_FRAME,
      decoder((packed, room) => {
        if (mostOfFrame(packed) > Math.max(2 * room.length, 2 ** 23))
          throw new Error("a compressed buffer has too many blocks");
        const bytes = lz4.decompressFrameSync(
          Buffer.from(packed.buffer, packed.byteOffset, packed.byteLength),
        );
        if (bytes.length === room.length) room.set(bytes);
        return bytes.length;
      }),
    );
    setCompressionCodec(
      CompressionType.ZSTD,
      decoder((packed, room) => zstd.decompress(packed, room).length),
    );
  })();
  return registered;
}

/**
 * Most bytes an LZ4 frame can unpack to: its blocks times the largest block it states.
 * Source: LZ4 frame format 1.6, frame descriptor and data blocks.
 */
export function mostOfFrame(frame: Uint8Array): number {
  const view = new DataView(frame.buffer, frame.byteOffset, frame.byteLength);
  if (frame.length < 7) return 0;
  const flags = frame[4];
  const largest = 2 ** (8 + 2 * ((frame[5] >> 4) & 7));
  const checksum = (flags & 0x10) === 0 ? 0 : 4;
  let at = 7 + ((flags & 0x08) === 0 ? 0 : 8) + ((flags & 0x01) === 0 ? 0 : 4);
  let blocks = 0;
  while (at + 4 <= frame.length) {
    const size = view.getUint32(at, true) & 0x7fffffff;
    if (size === 0) break;
    blocks += 1;
    at += 4 + size + checksum;
  }
  return blocks * largest;
}
