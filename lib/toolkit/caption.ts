import type { Showing } from "../chart/render/showsItself.js";

/** The same with its caption above the plain text too. */
export function withCaption(showing: Showing, caption: string): Showing {
  const data = { ...showing.data, "text/plain": `${caption}\n${showing.data["text/plain"] ?? ""}` };
  return { ...showing, data };
}
