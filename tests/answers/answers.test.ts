import { afterAll, expect, test } from "vitest";
import { answersOf } from "./answersOf.js";
import { cases } from "./list.js";
import { differences, readRecorded, writeRecorded } from "./recorded.js";

// Small recordings of many kinds are read and judged through the public face, and every number of the answers is held
// against the one recorded beside this test. It says nothing of right or wrong: it shows what a change changes. A
// wanted change is recorded by the command below, and looked at in the difference of `recorded.txt`.
const renew = "UPDATE_ANSWERS=1 npx vitest run --project quick tests/answers/answers.test.ts";
const update = process.env.UPDATE_ANSWERS !== undefined;
const recorded = readRecorded();
const now = new Map<string, readonly string[]>();

const cut = (text: string): string => (text.length > 150 ? `${text.slice(0, 147)}...` : text);

test.each(cases.map((one) => [one.name, one] as const))("%s", async (name, one) => {
  const answers = await answersOf(one);
  now.set(name, answers);
  if (update) return;
  const changed = differences(recorded.get(name) ?? [], answers);
  const table = changed
    .slice(0, 12)
    .map(
      ({ where, before, now: after }) => `${where}\n    before: ${cut(before)}\n    now:    ${cut(after)}`,
    );
  const more = changed.length > 12 ? `\n  and ${changed.length - 12} lines more` : "";
  if (changed.length > 0)
    expect.fail(
      `the answers to "${name}" changed:\n  ${table.join("\n  ")}${more}\n  A wanted change: ${renew}`,
    );
});

afterAll(() => {
  if (update) writeRecorded(now);
});
