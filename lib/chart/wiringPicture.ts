import type { LeadOrder } from "../motor/facts.js";
import { exchangeTerminals } from "../motor/leadOrder.js";
import { escapeHtml } from "../units/text.js";
import { fontFamily, type ThemeName, themeColors, verdictInk } from "./marks/theme.js";

/** What to do at the terminals, the encoder or the drive. */
export type WiringAction =
  | { readonly kind: "keep" }
  /** Exchange the leads on two drive terminals, then repeat the alignment. */
  | { readonly kind: "exchange-leads"; readonly terminals: readonly [1 | 2 | 3, 1 | 2 | 3] }
  /** Exchange encoder signals A and B at the encoder's plug, then repeat the alignment. */
  | { readonly kind: "exchange-encoder" }
  | { readonly kind: "align" }
  /** Change a number in the drive (`the pole pairs`, `the encoder lines`), then repeat the alignment. */
  | { readonly kind: "set"; readonly what: string }
  /** Look at something, power removed and locked. */
  | { readonly kind: "check"; readonly what: "leads" | "shaft" | "encoder" | "drive" };

/** How the motor stands connected, and what to change. */
export interface Wiring {
  /** Leads on drive terminals 1, 2, 3; absent where nobody stated them. */
  readonly order?: LeadOrder;
  readonly action: WiringAction;
  /** True for a detail of the encoder's end alone, as the second of two ways to do something. */
  readonly encoderOnly?: boolean;
}

/**
 * The order of the leads after the action: only an exchange of two leads changes it.
 *
 * @example
 * orderAfter("VUW", { kind: "exchange-leads", terminals: [1, 2] }); // => "UVW"
 */
export function orderAfter(order: LeadOrder, action: WiringAction): LeadOrder {
  return action.kind === "exchange-leads" ? exchangeTerminals(order, ...action.terminals) : order;
}

/**
 * The action in one sentence.
 *
 * @example
 * actionText({ order: "VUW", action: { kind: "exchange-leads", terminals: [1, 2] } });
 * // => "Exchange the leads on terminals 1 and 2 (V and U), then repeat the alignment."
 */
export function actionText({ order, action }: Wiring): string {
  switch (action.kind) {
    case "keep":
      return "Keep the connections as they are.";
    case "exchange-leads": {
      const [a, b] = action.terminals;
      const leads = order ? ` (${order[a - 1]} and ${order[b - 1]})` : "";
      return `Exchange the leads on terminals ${a} and ${b}${leads}, then repeat the alignment.`;
    }
    case "exchange-encoder":
      return "Leave the leads as they are, exchange A and B at the encoder's plug, then repeat the alignment.";
    case "align":
      return "Leave the leads as they are and repeat the alignment on a free shaft.";
    case "set":
      return `Leave the leads as they are, set ${action.what} in the drive, then repeat the alignment.`;
    case "check":
      return checks[action.what];
  }
}

const checks: Readonly<Record<(WiringAction & { kind: "check" })["what"], string>> = {
  leads: "Find the lead that makes no contact and repair it.",
  shaft: "Free the shaft: brake, jam or load.",
  encoder: "Check the encoder, its cable and its coupling.",
  drive: "Check the drive: enabled, limits, supply.",
};

const width = 430;
const height = 214;
/** Heights of terminals 1 to 3 on the drive and of leads U, V, W on the motor. */
const rows = [48, 86, 124] as const;
const encoderRows = [168, 190] as const;
const [driveEdge, motorEdge] = [112, 300];

/**
 * A plain drawing of one case: drive terminals 1-2-3, motor leads U-V-W as connected, encoder signals A and B, what to
 * move (the old way dashed, the new way bold) or where to act (a ring), and the action in words. SVG with a description
 * for those who cannot see it.
 *
 * @param wiring - Order as connected and what to change.
 * @example
 * const svg = wiringPicture({ order: "VUW", action: { kind: "exchange-leads", terminals: [1, 2] } });
 */
export function wiringPicture(wiring: Wiring, theme: ThemeName = "light"): string {
  const { action } = wiring;
  const { background, ink, quiet, grid, rule } = themeColors[theme];
  const accent = verdictInk[theme].runaway;
  const before = wiring.order ?? "UVW";
  const after = orderAfter(before, action);
  const box = (x: number, y: number, w: number, h: number, words: string): string =>
    `<rect x="${x}" y="${y}" width="${w}" height="${h}" rx="8" fill="${grid}" stroke="${rule}"/><text x="${x + w / 2}" y="${y + 18}" text-anchor="middle" font-weight="600">${words}</text>`;
  const ring = (x: number, y: number, r: number): string =>
    `<circle cx="${x}" cy="${y}" r="${r}" fill="none" stroke="${accent}" stroke-width="3"/>`;
  const parts = [
    box(14, 12, 92, 190, "drive"),
    box(306, 12, 110, 132, "motor"),
    box(306, 152, 110, 50, ""),
    `<text x="373" y="182" text-anchor="middle" font-weight="600">encoder</text>`,
    ...[0, 1, 2].map((i) => leadRow(i, before, after, wiring.order !== undefined)),
    ...encoderWires(action.kind === "exchange-encoder"),
    marks(action, ring),
  ];
  const said = actionText(wiring);
  const top = wiring.encoderOnly === true ? 147 : 0;
  const tall = height + 34 - top;
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 ${top} ${width} ${tall}" width="${width}" height="${tall}" role="img" aria-label="${escapeHtml(describe(wiring))}" font-family="${fontFamily}" font-size="14" fill="${ink}"><rect width="${width}" height="${height + 34}" fill="${background}"/>${parts.join("")}${sentence(said)}</svg>`;

  function leadRow(i: number, from: LeadOrder, to: LeadOrder, known: boolean): string {
    const at = rows[i];
    const ends = (order: LeadOrder): readonly [number, number] => [at, rows["UVW".indexOf(order[i])]];
    const moved = from[i] !== to[i];
    return (
      (moved ? wire(ends(from), quiet, 'stroke-width="2" stroke-dasharray="4 4"') : "") +
      wire(ends(to), moved ? accent : ink, `stroke-width="${moved ? 3.4 : 2.2}"`) +
      `<circle cx="${driveEdge - 6}" cy="${at}" r="5" fill="${background}" stroke="${ink}" stroke-width="2"/><text x="${driveEdge - 20}" y="${at + 5}" text-anchor="end">${i + 1}</text>` +
      `<circle cx="${motorEdge + 6}" cy="${at}" r="5" fill="${background}" stroke="${ink}" stroke-width="2"/><text x="${motorEdge + 20}" y="${at + 5}">${known ? "UVW"[i] : "lead"}</text>`
    );
  }

  function wire([from, to]: readonly [number, number], color: string, rest: string): string {
    return `<path d="M${driveEdge} ${from}C${driveEdge + 70} ${from} ${motorEdge - 70} ${to} ${motorEdge} ${to}" fill="none" stroke="${color}" ${rest}/>`;
  }

  function encoderWires(exchanged: boolean): string[] {
    return [0, 1].map((i) => {
      const [at, other] = [encoderRows[i], encoderRows[1 - i]];
      const lines = exchanged
        ? wire([at, at], quiet, 'stroke-width="2" stroke-dasharray="4 4"') +
          wire([at, other], accent, 'stroke-width="3"')
        : wire([at, at], ink, 'stroke-width="1.6"');
      return `${lines}<text x="${driveEdge - 20}" y="${at + 5}" text-anchor="end">${"AB"[i]}</text><text x="${motorEdge + 20}" y="${at + 5}">${"AB"[i]}</text>`;
    });
  }

  function marks(act: WiringAction, circle: typeof ring): string {
    if (act.kind === "align" || (act.kind === "check" && act.what === "shaft"))
      return circle(384, 92, 22) + shaft(accent);
    if (act.kind === "set" || (act.kind === "check" && act.what === "drive"))
      return circle(44, 92, 20) + shaft(quiet);
    if (act.kind === "check" && act.what === "leads")
      return rows.map((at) => circle(driveEdge - 6, at, 10)).join("") + shaft(quiet);
    if (act.kind === "check" && act.what === "encoder") return circle(330, 179, 18) + shaft(quiet);
    return shaft(quiet);
  }

  function shaft(color: string): string {
    return `<circle cx="384" cy="92" r="7" fill="${color}"/><path d="M384 78a14 14 0 1 1 -12.1 7" fill="none" stroke="${color}" stroke-width="2"/>`;
  }

  function sentence(words: string): string {
    const lines: string[] = [];
    for (const word of words.split(" ")) {
      const last = lines[lines.length - 1];
      if (last !== undefined && last.length + word.length < 50) lines[lines.length - 1] = `${last} ${word}`;
      else lines.push(word);
    }
    return lines
      .map(
        (line, i) => `<text x="14" y="${height + 6 + 19 * i}" font-weight="600">${escapeHtml(line)}</text>`,
      )
      .join("");
  }
}

function describe(wiring: Wiring): string {
  const { order, action } = wiring;
  const now = order
    ? `Leads ${[...order].join(", ")} on drive terminals 1, 2, 3.`
    : "The order of the leads was not stated.";
  const then =
    order && action.kind === "exchange-leads"
      ? ` Afterwards: ${[...orderAfter(order, action)].join(", ")}.`
      : "";
  return `${now} ${actionText(wiring)}${then}`;
}
