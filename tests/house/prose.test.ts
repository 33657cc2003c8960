import { expect, test } from "vitest";
import { reflowComments, reflowMarkdown, tooWide } from "./reflow.js";

test("paragraphs of pages and comments of code are at most 120 columns wide (npx tsx tests/house/reflow.ts --write)", () => {
  expect(tooWide().map(({ name }) => name)).toEqual([]);
});

test("what is set anew keeps its words, its lists and its code", () => {
  const long = Array.from({ length: 40 }, (_, k) => `word${k}`).join(" ");
  const page = `# ${long}\n\n- ${long}\n  goes on\n- short\n\n| ${long} |\n\n\`\`\`\n${long}\n\`\`\`\n`;
  const set = reflowMarkdown(page);
  expect(set.split(/\s+/)).toEqual(page.split(/\s+/));
  expect(set.split("\n").filter((line) => line.length > 120)).toEqual([`# ${long}`, `| ${long} |`, long]);
  expect(reflowMarkdown(set)).toBe(set);
  const code = `const a = 1; // kept\n/** ${long} */\n  // ${long}\n  // ${long}\n`;
  const comments = reflowComments(code);
  expect(comments.split("\n").every((line) => line.length <= 120)).toBe(true);
  expect(
    comments
      .replaceAll(/^\s*(\/\*\*|\/\/|\*) |\*\/$/gm, "")
      .split(/\s+/)
      .join(" ")
      .trim(),
  ).toBe(
    code
      .replaceAll(/^\s*(\/\*\*|\/\/|\*) |\*\/$/gm, "")
      .split(/\s+/)
      .join(" ")
      .trim(),
  );
});
