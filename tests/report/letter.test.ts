import { expect, test } from "vitest";
import { type RemedyCode, remedies } from "../../lib/diagnosis/tables/causes.js";
import { letter } from "../../lib/report/letter.js";
import type { ReportSource } from "../../lib/report/types.js";
import { uglyIn } from "../house/humanText.js";
import { source } from "./sample.js";

/** A letter about one trial that points to a remedy. */
function about(remedy: RemedyCode, probability: number): string {
  const given = structuredClone(source()) as ReportSource;
  const [first] = given.diagnosis.recordings;
  const trial = {
    ...first.trials[0],
    verdict: "blocked" as const,
    remedies: [{ remedy, probability, text: remedies[remedy], causes: [] }],
  };
  return letter(
    {
      ...given,
      diagnosis: { ...given.diagnosis, orderings: [], recordings: [{ ...first, trials: [trial] }] },
    },
    "text",
  );
}

/** The part of a letter below one of its headings. */
function below(text: string, heading: string): string {
  return (text.split(`${heading}\n\n`)[1] ?? "").split(/\n\n[A-Z ]{6,}\n/)[0];
}

// What somebody who does not know motors needs: power off and locked first, clear of the shaft before it is back on,
// the caution last.
test.each(Object.keys(remedies).filter((code) => code !== "keep") as RemedyCode[])(
  "%s: steps in a safe order",
  (code) => {
    const text = about(code, 0.9);
    expect(uglyIn(text, [], 76)).toEqual([]);
    const steps = below(text, "WHAT TO DO")
      .replace(/\n {3}/g, " ")
      .split("\n");
    expect(steps.length).toBeGreaterThanOrEqual(3);
    expect(steps[0]).toMatch(/^1\. Switch the power off and lock it, .* nothing can turn\.$/);
    const on = steps.findIndex((step) => step.includes("put power back on"));
    if (code !== "look") expect(steps[on]).toContain("Keep everybody clear of the shaft");
    // Hands on wires, shaft or plug only before power is back.
    for (const step of steps.slice(on < 0 ? steps.length : on))
      expect(step).not.toMatch(/\b(?:Exchange|Connect|Take|Uncouple|by hand|resistance)\b/);
    expect(steps.at(-1)).toContain("small current first");
    const meaning = below(text, "WHAT IT MEANS");
    expect(meaning).toContain("Most likely (90 %): ");
    // Words of the trade that the reader need not know stand in no meaning.
    expect(meaning).not.toMatch(/commutation|electrical|offset|phase|deg/);
    const [, caution] = text.split("CAUTION\n\n");
    expect(caution).toMatch(/^A shaft can start without warning\./);
    expect(text.indexOf("CAUTION")).toBeGreaterThan(text.indexOf("HOW TO RECORD IT"));
  },
);

test("a cause that is not settled gives no steps", () => {
  const text = about("swap", 0.4);
  expect(text).not.toContain("WHAT TO DO");
  expect(text.replace(/\n/g, " ")).toContain(
    "The log does not settle the cause. The likeliest so far (40 %)",
  );
});
