import { createHash } from "node:crypto";

/** Characters of pictures that are kept in all. */
const most = 8_000_000;

const lately = new Map<string, string>();
let kept = 0;

/**
 * A picture of what was asked before is not drawn again: a chart that is shown and then saved, or that stands on
 * several pages. The latest are kept, some megabytes of them.
 *
 * @param asked everything the picture depends on, as JSON
 */
export function drawnOnce(asked: string, draw: () => string): string {
  const key = createHash("sha256").update(asked).digest("base64");
  const known = lately.get(key);
  if (known !== undefined) {
    lately.delete(key);
    lately.set(key, known);
    return known;
  }
  const picture = draw();
  lately.set(key, picture);
  kept += picture.length;
  for (const [old, { length }] of lately) {
    if (kept <= most) break;
    lately.delete(old);
    kept -= length;
  }
  return picture;
}
