import { beforeAll, expect, test } from "vitest";
import { pagesOfSample } from "./studySample.js";

let files: Record<string, string>;
beforeAll(async () => {
  files = await pagesOfSample();
});

test("the page says first what stands out, with remedies, counts apart and what was not decided", () => {
  const page = files["study.html"];
  const first = page.slice(page.indexOf("<h1"), page.indexOf("Caution."));
  expect(first).toContain("2 not sound");
  expect(first).toContain("1 not decided");
  expect(first).toContain("2 reversed");
  expect(first).toContain("1 tracking, but against the command");
  expect(first).toContain("exchange any two motor leads");
  for (const words of ["repeat with more", "kv changed", "Time left"])
    expect(page.includes(words)).toBe(true);
  // The drifting motor: 75 % over 1,000 h. By the logarithm its level of 0.035 comes to 0.05 in 1,000 h times
  // ln(0.05 / 0.035) / ln(1.75), 637 h.
  expect(page.includes('href="motor-m03.html"')).toBe(true);
  const left = /m03<\/a>: <a href="#left">Coulomb friction<\/a>, upper limit reached in ([\d.]+) \(/.exec(
    first,
  );
  expect(Number(left?.[1])).toBeGreaterThan(0.85 * 637);
  expect(Number(left?.[1])).toBeLessThan(1.15 * 637);
  const lives = /Life of B\d<\/a>: ([\d.]+) times that of the others/.exec(first);
  expect(lives).not.toBeNull();
  expect(Math.abs(Math.log(Number(lives?.[1])))).toBeGreaterThan(Math.log(3));
});

test("no text from outside becomes markup, and every motor that is linked has its page", () => {
  for (const [name, html] of Object.entries(files)) {
    expect(html.includes("<img src=x")).toBe(false);
    expect(name).toMatch(/^(study|motor-[a-zA-Z0-9_-]+)\.html$/);
    for (const [, to] of html.matchAll(/href="([^"#]+\.html)"/g))
      expect(Object.keys(files)).toContain(decodeURI(to));
    const told = html.replace(/<script>[\s\S]*?<\/script>/g, "");
    expect(/NaN|undefined<|\[object/.test(told)).toBe(false);
  }
});
