import { visible } from "../../units/text.js";

/** A reader's own words where they are meant for a person; a damaged file also makes a library trip over itself. */
export function reasonOf(error: unknown): string {
  const text = (error instanceof Error ? error.message : String(error)).split("\n")[0];
  const tripped =
    error instanceof TypeError || error instanceof RangeError || /undefined|NaN|is not a/.test(text);
  return tripped ? "its parts do not fit together" : visible(text, 160);
}
