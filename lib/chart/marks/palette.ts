/**
 * Colours with fixed meanings. The hues follow the qualitative set of M. Okabe and K. Ito, "Color Universal Design"
 * (2002), darkened where needed so that every one keeps a contrast of at least 3 to 1 on the light and on the dark
 * background. No chart relies on colour alone: a word, a dash or a shape says the same.
 */

/** One colour per quantity. */
export const quantityColor = {
  current: "#0072b2",
  speed: "#b0568a",
  position: "#2a8fc4",
  torque: "#8a6d1f",
  voltage: "#2f7f86",
} as const;

/** One colour per verdict. */
export const verdictColor = {
  tracking: "#00875f",
  reversed: "#be2376",
  runaway: "#d2500a",
  blocked: "#6b62b8",
  undetermined: "#77797d",
} as const;

/** One shape per verdict, so that the colour is not needed. */
export const verdictShape = {
  tracking: "circle",
  reversed: "triangle-down",
  runaway: "triangle-up",
  blocked: "square",
  undetermined: "diamond",
} as const;

/** The same shapes as characters, for tables and text. */
export const verdictMark = {
  tracking: "●",
  reversed: "▼",
  runaway: "▲",
  blocked: "■",
  undetermined: "◆",
} as const;

/** Colours for things that are told apart and mean nothing more (cases of a sweep, motors). */
export const caseColors = ["#0072b2", "#d2500a", "#00875f", "#b0568a", "#8a6d1f", "#2a8fc4"] as const;

/** Dashes that go with `caseColors`. */
export const caseDashes: readonly (readonly number[])[] = [
  [1, 0],
  [7, 3],
  [2, 2],
  [8, 2, 2, 2],
  [4, 4],
  [1, 3],
];

/** What was asked for (dashed as well). */
export const commandColor = "#6b7178";

/** Measured data, and a model drawn over it. */
export const dataColor = "#0072b2";
export const modelColor = "#d2500a";

/** Stable and unstable halves of a plane, a pass and a stop. */
export const stableColor = "#00875f";
export const unstableColor = "#d2500a";

/** What each of these colours becomes on the dark background, where it keeps 4.5 to 1 (WCAG 2.2). */
export const darkMarks: Readonly<Record<string, string>> = {
  "#0072b2": "#4aa8e0",
  "#b0568a": "#d98abb",
  "#2a8fc4": "#6cc0ea",
  "#8a6d1f": "#c9a64a",
  "#2f7f86": "#5fb3ba",
  "#00875f": "#35c495",
  "#be2376": "#f27db8",
  "#d2500a": "#ff8f52",
  "#6b62b8": "#aba4f4",
  "#77797d": "#a6aab0",
  "#6b7178": "#a0a7b0",
};

/** The colours of the light background for those of the dark one. */
const lightMarks: Readonly<Record<string, string>> = Object.fromEntries(
  Object.entries(darkMarks).map(([light, dark]) => [dark, light]),
);

/**
 * A specification with the colours of its marks as they are on another background; its data stay as they are.
 *
 * @param spec a Vega-Lite specification, or a part of one
 * @param dark true for the dark background
 */
export function repainted<T>(spec: T, dark: boolean): T {
  const colors = dark ? darkMarks : lightMarks;
  const paint = (part: unknown): unknown => {
    if (typeof part === "string") return Object.hasOwn(colors, part) ? colors[part] : part;
    if (Array.isArray(part)) return part.map(paint);
    if (part === null || typeof part !== "object" || ArrayBuffer.isView(part)) return part;
    return Object.fromEntries(
      Object.entries(part).map(([key, value]) => [
        key,
        key === "values" || key === "datasets" || key === "config" ? value : paint(value),
      ]),
    );
  };
  return paint(spec) as T;
}
