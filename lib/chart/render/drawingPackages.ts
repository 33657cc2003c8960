import { optionalPackage } from "../../units/optionalPackage.js";

/** Everything that drawing uses: the first two are needed for any picture, the rest give live charts and our
 * typeface. */
export const drawingPackages = [
  "vega",
  "vega-lite",
  "vega-embed",
  "opentype.js",
  "@fontsource/source-sans-3",
  "@expo-google-fonts/source-sans-3",
] as const;

/**
 * Loads the packages that draw a chart.
 *
 * @param purpose - what needs them, for the message
 * @throws Error that says what to install when they are not there.
 */
export function loadDrawing(
  purpose = "drawing a chart",
): Promise<readonly [typeof import("vega"), typeof import("vega-lite")]> {
  return optionalPackage(
    () => Promise.all([import("vega"), import("vega-lite")] as const),
    purpose,
    drawingPackages,
  );
}

/**
 * Loads the package that turns SVG into PNG.
 *
 * @throws Error that says what to install when it is not there.
 */
export function loadPng(): Promise<typeof import("@resvg/resvg-js")> {
  return optionalPackage(() => import("@resvg/resvg-js"), "a chart as PNG", [
    "@resvg/resvg-js",
    ...drawingPackages,
  ]);
}
