/**
 * Colours with fixed meanings. The hues follow the qualitative set of M. Okabe and K. Ito, "Color Universal Design" (2002), darkened
 * where needed so that every one keeps a contrast of at least 3 to 1 on the light and on the dark background. No chart relies on colour
 * alone: a word, a dash or a shape says the same.
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
