/** Zoom and pan for live charts: added when a chart goes to a browser, never to a still picture. */
import { createHash } from "node:crypto";
import type { ChartSpec } from "./spec.js";

/** What a reader is told below a live chart. */
export const zoomHint = "Ctrl + wheel (or pinch) zooms, dragging moves, double-click shows all.";

type Part = Record<string, unknown>;
type Channel = "x" | "y";
interface Position {
  readonly field?: string;
  readonly type?: string;
  readonly datum?: unknown;
  readonly scale?: { readonly domain?: unknown; readonly domainRaw?: unknown } | null;
}

/** How one axis of a view is moved: name of the parameter, and the field by which its ends are read. */
interface Handle {
  readonly name: string;
  readonly field: string;
}

/**
 * The chart with axes that can be zoomed and moved: Ctrl and the wheel (or two fingers) zoom, dragging moves, a
 * double-click shows all again. The wheel alone scrolls the page, as everywhere. Views with the same axis of a chart
 * move together; recordings keep the strip below them instead.
 */
export function zoomable(spec: ChartSpec): ChartSpec {
  const mark = createHash("sha256").update(JSON.stringify(spec)).digest("hex").slice(0, 8);
  const taken = new Set(
    ((spec.params as { views?: string[] }[] | undefined) ?? []).flatMap(({ views }) => views ?? []),
  );
  const names = new Map<string, string>();
  let count = 0;
  const named = (channel: Channel, { field, scale }: Position): string => {
    // Without stated ends two quantities on the same field are of different sizes: only times and frequencies go
    // together then.
    const shared = channel === "x" || Array.isArray(scale?.domain);
    const key = JSON.stringify([channel, field, shared ? (scale?.domain ?? null) : count]);
    if (!names.has(key)) names.set(key, `zoom_${mark}_${names.size}`);
    return names.get(key) as string;
  };
  const walk = (part: Part): Part => {
    for (const key of ["vconcat", "hconcat", "concat"])
      if (Array.isArray(part[key])) return { ...part, [key]: (part[key] as Part[]).map(walk) };
    count++;
    return taken.has(String(part.name)) ? part : zoomableView(part, named);
  };
  // Numbers at an axis get wider as it is zoomed: the picture makes room for them.
  return { ...walk(spec), autosize: { type: "pad", resize: true } } as unknown as ChartSpec;
}

/** True where `zoomable` found an axis to move. */
export function canZoom(spec: ChartSpec): boolean {
  return JSON.stringify(spec).includes('"bind":"scales"');
}

function zoomableView(view: Part, named: (channel: Channel, position: Position) => string): Part {
  const units = unitsOf(view);
  if (units.some((unit) => at(unit, "x")?.scale?.domainRaw !== undefined)) return view;
  const continuous = (unit: Part, channel: Channel): boolean => {
    const { field, type } = at(unit, channel) ?? {};
    return field !== undefined && (type === "quantitative" || type === "temporal");
  };
  // A unit with both axes, the invisible one that the pointer reads where there is one.
  const hosts = units.filter((unit) => continuous(unit, "x") || continuous(unit, "y"));
  const both = hosts.filter((unit) => continuous(unit, "x") && continuous(unit, "y"));
  const host = both.at(0) ?? hosts.at(0);
  if (host === undefined) return view;
  const handles = Object.fromEntries(
    (["x", "y"] as const).flatMap((channel) => {
      if (!continuous(host, channel)) return [];
      const position = at(host, channel) as Position & { field: string };
      return [[channel, { name: named(channel, position), field: position.field }]];
    }),
  ) as Partial<Record<Channel, Handle>>;
  const params = Object.entries(handles).map(([channel, { name }]) => ({
    name,
    select: {
      type: "interval",
      encodings: [channel],
      zoom: "wheel![event.ctrlKey]",
      translate: "[pointerdown, window:pointerup] > window:pointermove!",
      clear: "dblclick",
    },
    bind: "scales",
  }));
  return mapUnits(view, (unit) => {
    const inside = within(unit, handles);
    return unit === host ? { ...inside, params: [...((unit.params as object[]) ?? []), ...params] } : inside;
  });
}

/**
 * A unit whose marks stay within the plot when it is moved. Lines and areas are cut at its edge by the drawing itself;
 * points and words, which may stand beyond the edge, are not, and leave the picture when their place is moved out of
 * sight (an invisible one would still take room).
 */
function within(unit: Part, handles: Partial<Record<Channel, Handle>>): Part {
  const mark = (typeof unit.mark === "string" ? { type: unit.mark } : unit.mark) as Part;
  const type = String(mark.type);
  if (!["point", "text", "tick"].includes(type) || mark.clip || String(unit.name ?? "").startsWith("hover"))
    return unit;
  const tests = (Object.entries(handles) as [Channel, Handle][]).flatMap(([channel, { name, field }]) => {
    const value = placeOf(at(unit, channel));
    const ends = `${name}[${JSON.stringify(field)}]`;
    return value === undefined ? [] : [`(!${ends} || inrange(${value}, ${ends}))`];
  });
  const uncut = { ...unit, mark: { ...mark, clip: false } };
  if (tests.length === 0) return uncut;
  return { ...uncut, transform: [...((unit.transform as object[]) ?? []), { filter: tests.join(" && ") }] };
}

function placeOf(position: Position | undefined): string | undefined {
  if (typeof position?.datum === "number") return String(position.datum);
  if (position?.field === undefined) return undefined;
  const value = `datum[${JSON.stringify(position.field)}]`;
  return position.type === "temporal" ? `time(${value})` : value;
}

function at(unit: Part, channel: Channel): Position | undefined {
  return (unit.encoding as Partial<Record<Channel, Position>> | undefined)?.[channel];
}

function unitsOf(view: Part): Part[] {
  return Array.isArray(view.layer) ? (view.layer as Part[]).flatMap(unitsOf) : "mark" in view ? [view] : [];
}

function mapUnits(view: Part, change: (unit: Part) => Part): Part {
  if (Array.isArray(view.layer))
    return { ...view, layer: (view.layer as Part[]).map((part) => mapUnits(part, change)) };
  return "mark" in view ? change(view) : view;
}
