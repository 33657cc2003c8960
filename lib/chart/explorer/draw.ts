import type { Point } from "./model.js";

/** Size of every picture, pixels of its own drawing space. */
export const size = { width: 380, height: 270, left: 52, right: 12, top: 12, bottom: 42 } as const;

/** An axis: what it shows, and how far. */
export interface Axis {
  readonly title: string;
  readonly from: number;
  readonly to: number;
  readonly log?: boolean;
  /** What a tick says, instead of its number. */
  readonly text?: (value: number) => string;
}

/** A picture in the making: parts in data units between two axes. */
export interface Picture {
  readonly x: (value: number) => number;
  readonly y: (value: number) => number;
  line(points: readonly Point[], style: string, options?: { readonly arrow?: boolean }): void;
  dot(at: Point, style: string, shape?: "circle" | "small" | "cross" | "square"): void;
  text(at: Point, words: string, style?: string, anchor?: "start" | "middle" | "end"): void;
  area(from: Point, to: Point, style: string): void;
  svg(description: string): string;
}

const fixed = (value: number): string => (Number.isFinite(value) ? value.toFixed(1) : "0");

/** Round ticks of an axis, about `count` of them; whole powers of ten where it is logarithmic. */
export function ticks({ from, to, log }: Axis, count: number): number[] {
  if (log) {
    const list: number[] = [];
    for (let p = Math.ceil(Math.log10(from)); 10 ** p <= to * 1.0001; p++) list.push(10 ** p);
    return list;
  }
  const raw = (to - from) / count;
  const unit = 10 ** Math.floor(Math.log10(raw));
  const step = unit * ([1, 2, 5, 10].find((n) => n * unit >= raw) ?? 10);
  const list: number[] = [];
  for (let k = Math.ceil(from / step); k * step <= to + 1e-9 * step; k++) list.push(k * step + 0);
  return list;
}

/** A number as a tick says it: no longer than it needs to be. */
export function tickText(value: number): string {
  return String(Number(value.toPrecision(6))).replace("-", "−");
}

/** Starts a picture between two axes. */
export function picture(across: Axis, up: Axis): Picture {
  const parts: string[] = [];
  const scale = (axis: Axis, low: number, high: number) => {
    const at = axis.log ? Math.log10 : (value: number) => value;
    const [a, b] = [at(axis.from), at(axis.to)];
    return (value: number) => low + ((at(value) - a) / (b - a)) * (high - low);
  };
  const x = scale(across, size.left, size.width - size.right);
  const y = scale(up, size.height - size.bottom, size.top);
  const frame = frameOf(across, up, x, y);
  return {
    x,
    y,
    line(points, style, options = {}) {
      const path = points
        .filter(([a, b]) => Number.isFinite(a) && Number.isFinite(b))
        .map(([a, b], i) => `${i === 0 ? "M" : "L"}${fixed(clamp(x(a)))} ${fixed(clamp(y(b)))}`)
        .join("");
      parts.push(`<path class="${style}" d="${path}"${options.arrow ? ' marker-end="url(#tip)"' : ""}/>`);
    },
    dot([a, b], style, shape = "circle") {
      const [u, v] = [clamp(x(a)), clamp(y(b))];
      if (shape === "cross")
        parts.push(
          `<path class="${style} mark" d="M${u - 5} ${v - 5}L${u + 5} ${v + 5}M${u - 5} ${v + 5}L${u + 5} ${v - 5}"/>`,
        );
      else if (shape === "square")
        parts.push(`<rect class="${style}" x="${fixed(u - 4)}" y="${fixed(v - 4)}" width="8" height="8"/>`);
      else
        parts.push(
          `<circle class="${style}" cx="${fixed(u)}" cy="${fixed(v)}" r="${shape === "small" ? 2.2 : 4.5}"/>`,
        );
    },
    text([a, b], words, style = "word", anchor = "start") {
      parts.push(
        `<text class="${style}" x="${fixed(clamp(x(a)))}" y="${fixed(clamp(y(b)))}" text-anchor="${anchor}">${words}</text>`,
      );
    },
    area([a, b], [c, d], style) {
      const [u, v] = [Math.min(x(a), x(c)), Math.min(y(b), y(d))];
      parts.push(
        `<rect class="${style}" x="${fixed(u)}" y="${fixed(v)}" width="${fixed(Math.abs(x(c) - x(a)))}" height="${fixed(Math.abs(y(d) - y(b)))}"/>`,
      );
    },
    svg: (description) => wrap(`${frame}<g clip-path="url(#field)">${parts.join("")}</g>`, description),
  };
}

/** Far points stay far, but finite. */
const clamp = (value: number): number => Math.max(-4000, Math.min(4000, value));

function frameOf(across: Axis, up: Axis, x: (v: number) => number, y: (v: number) => number): string {
  const { width, height, left, right, top, bottom } = size;
  const parts: string[] = [];
  for (const tick of ticks(across, 5))
    parts.push(
      `<path class="grid" d="M${fixed(x(tick))} ${top}V${height - bottom}"/><text class="tick" x="${fixed(x(tick))}" y="${height - bottom + 15}" text-anchor="middle">${(across.text ?? tickText)(tick)}</text>`,
    );
  for (const tick of ticks(up, 4))
    parts.push(
      `<path class="grid" d="M${left} ${fixed(y(tick))}H${width - right}"/><text class="tick" x="${left - 6}" y="${fixed(y(tick) + 4)}" text-anchor="end">${(up.text ?? tickText)(tick)}</text>`,
    );
  parts.push(
    `<text class="title" x="${(left + width - right) / 2}" y="${height - 8}" text-anchor="middle">${across.title}</text>`,
    `<text class="title" transform="translate(13 ${(top + height - bottom) / 2}) rotate(-90)" text-anchor="middle">${up.title}</text>`,
  );
  return parts.join("");
}

/** SVG of a picture with its description for those who cannot see it. */
export function wrap(body: string, description: string): string {
  const { width, height, left, right, top, bottom } = size;
  return `<svg viewBox="0 0 ${width} ${height}" role="img" aria-label="${description}"><defs><clipPath id="field"><rect x="${left}" y="${top}" width="${width - left - right}" height="${height - top - bottom}"/></clipPath></defs>${body}</svg>`;
}
