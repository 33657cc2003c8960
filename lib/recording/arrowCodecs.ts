import { CompressionType, setCompressionCodec } from "@uwdata/flechette";

/** Most bytes that one compressed buffer of an Arrow file may unpack to. */
const mostUnpacked = 2 ** 31 - 1;

let registered: Promise<void> | undefined;

/**
 * Makes the Arrow reader understand compressed buffers: LZ4 frames, which data-frame libraries write by default, and zstd.
 * A buffer states its unpacked length; neither codec writes beyond it, so a small file cannot unpack without bound.
 * Source: Apache Arrow columnar format, "Compression" of IPC buffers (BodyCompression, method BUFFER).
 */
export function registerArrowCodecs(): Promise<void> {
  registered ??= (async () => {
    const [lz4, zstd] = await Promise.all([import("lz4js"), import("fzstd")]);
    const decoder = (unpack: (packed: Uint8Array, room: Uint8Array) => number) => ({
      encode: (): Uint8Array => {
        throw new Error("compressed Arrow files are read, not written");
      },
      decode: (packed: Uint8Array, length?: number): Uint8Array => {
        if (length === undefined || !(length >= 0 && length <= mostUnpacked))
          throw new Error(`a compressed buffer states an impossible length (${length} bytes)`);
        const room = new Uint8Array(length);
        const got = unpack(packed, room);
        if (got !== length)
          throw new Error(`a compressed buffer unpacks to ${got} bytes where ${length} are stated`);
        return room;
      },
    });
    setCompressionCodec(
      CompressionType.LZ4_FRAME,
      decoder((packed, room) => lz4.default.decompressFrame(packed, room)),
    );
    setCompressionCodec(
      CompressionType.ZSTD,
      decoder((packed, room) => zstd.decompress(packed, room).length),
    );
  })();
  return registered;
}
