import {
  differenceCiede2000,
  filterDeficiencyDeuter,
  filterDeficiencyProt,
  filterDeficiencyTrit,
  wcagContrast,
} from "culori";
import { expect, test } from "vitest";
import {
  caseColors,
  quantityColor,
  verdictColor,
  verdictMark,
  verdictShape,
} from "../../lib/chart/marks/palette.js";
import { type ThemeName, themeColors, verdictInk } from "../../lib/chart/marks/theme.js";

const difference = differenceCiede2000();
const eyes = {
  usual: (color: string) => color,
  "without red cones": filterDeficiencyProt(1),
  "without green cones": filterDeficiencyDeuter(1),
  "without blue cones": filterDeficiencyTrit(1),
} as const;

// The simulation and the colour difference are those of the culori library (Machado, Oliveira and Fernandes 2009;
// CIEDE2000). A CIEDE2000 difference of about 2 is just noticeable; 8 and more is plain.
test.each(Object.entries(eyes))("verdicts can be told apart by colour, %s", (_name, seen) => {
  const colors = Object.values(verdictColor);
  for (let i = 0; i < colors.length; i++) {
    for (let j = 0; j < i; j++) {
      expect(difference(seen(colors[i]), seen(colors[j])), `${colors[i]} ${colors[j]}`).toBeGreaterThan(8);
    }
  }
});

// WCAG 2.2, success criterion 1.4.11: at least 3 to 1 for graphics.
test.each(["light", "dark", "print"] satisfies ThemeName[])(
  "graphics stand out from the %s background",
  (theme) => {
    const { background } = themeColors[theme];
    for (const color of [...Object.values(quantityColor), ...Object.values(verdictColor), ...caseColors]) {
      expect(wcagContrast(color, background), color).toBeGreaterThanOrEqual(3);
    }
  },
);

// WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1 for text.
test.each(["light", "dark", "print"] satisfies ThemeName[])("text can be read in the %s theme", (theme) => {
  const { background, ink, quiet } = themeColors[theme];
  expect(wcagContrast(ink, background)).toBeGreaterThanOrEqual(7);
  expect(wcagContrast(quiet, background)).toBeGreaterThanOrEqual(4.5);
  for (const ink of Object.values(verdictInk[theme]))
    expect(wcagContrast(ink, background), ink).toBeGreaterThanOrEqual(4.5);
});

test("every verdict has a shape and a mark of its own", () => {
  expect(new Set(Object.values(verdictShape)).size).toBe(5);
  expect(new Set(Object.values(verdictMark)).size).toBe(5);
});
