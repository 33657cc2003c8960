import { crc32, deflateSync } from "node:zlib";

/**
 * Pixels as a PNG with a palette of at most 256 colours (ISO/IEC 15948, colour type 3): a chart has few colours, and so
 * takes a third of the room. Where smoothed edges make more colours than that, near ones are drawn as their mean.
 *
 * @param pixels - Red, green, blue, alpha, row by row.
 * @returns Undefined when a pixel lets the background through, which a palette like this cannot say.
 */
export function palettePng(pixels: Uint8Array, width: number, height: number): Uint8Array | undefined {
  const count = width * height;
  for (let i = 0; i < count; i++) if (pixels[4 * i + 3] !== 255) return undefined;
  for (let lost = 0; lost < 8; lost++) {
    const found = palette(pixels, count, lost);
    if (found) return encoded(found, width, height);
  }
  return undefined;
}

interface Indexed {
  readonly colors: Uint8Array;
  readonly places: Uint8Array;
}

/** Colours that agree in all but the `lost` lowest bits of each part are one; undefined when there are still more
 * than 256. */
function palette(pixels: Uint8Array, count: number, lost: number): Indexed | undefined {
  const places = new Uint8Array(count);
  const known = new Map<number, number>();
  const sums: number[][] = [];
  for (let i = 0; i < count; i++) {
    const [r, g, b] = [pixels[4 * i], pixels[4 * i + 1], pixels[4 * i + 2]];
    const key = ((r >> lost) << 16) | ((g >> lost) << 8) | (b >> lost);
    let place = known.get(key);
    if (place === undefined) {
      place = sums.length;
      if (place === 256) return undefined;
      known.set(key, place);
      sums.push([0, 0, 0, 0]);
    }
    const sum = sums[place];
    sum[0] += r;
    sum[1] += g;
    sum[2] += b;
    sum[3]++;
    places[i] = place;
  }
  const colors = Uint8Array.from(
    sums.flatMap(([r, g, b, n]) => [r, g, b].map((part) => Math.round(part / n))),
  );
  return { colors, places };
}

function encoded({ colors, places }: Indexed, width: number, height: number): Uint8Array {
  const header = Buffer.alloc(13);
  header.writeUInt32BE(width, 0);
  header.writeUInt32BE(height, 4);
  header.set([8, 3, 0, 0, 0], 8);
  // Every row begins with the name of its filter: none.
  const rows = Buffer.alloc((width + 1) * height);
  for (let y = 0; y < height; y++) rows.set(places.subarray(y * width, (y + 1) * width), y * (width + 1) + 1);
  return Buffer.concat([
    Buffer.from([137, 80, 78, 71, 13, 10, 26, 10]),
    chunk("IHDR", header),
    chunk("PLTE", colors),
    chunk("IDAT", deflateSync(rows, { level: 9 })),
    chunk("IEND", new Uint8Array()),
  ]);
}

function chunk(name: string, data: Uint8Array): Buffer {
  const body = Buffer.concat([Buffer.from(name, "latin1"), data]);
  const whole = Buffer.alloc(body.length + 8);
  whole.writeUInt32BE(data.length, 0);
  whole.set(body, 4);
  whole.writeUInt32BE(crc32(body), body.length + 4);
  return whole;
}
