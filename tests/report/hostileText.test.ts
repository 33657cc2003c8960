import { expect, test } from "vitest";
import { makeReport } from "../../lib/report/index.js";
import { markdownText } from "../../lib/units/text.js";
import { hostileSource, source } from "./sample.js";

test("text from outside calls nobody in a ticket, refers to none, and makes no link or markup", () => {
  for (const [text, shown] of [
    ["@everyone", "(at)everyone"],
    ["see (@here), @channel", "see ((at)here), (at)channel"],
    ["<@123> <!here>", "&lt;(at)123&gt; &lt;!here&gt;"],
    ["a@example.org", "a@example.org"],
    ["fixes #12, !34", "fixes \\# 12, ! 34"],
    ["https://evil.example/a", "https:\\/\\/evil.example/a"],
    ["www.evil.example", "www\\.evil.example"],
    ["[x](javascript:1) ![y](z)", "\\[x\\](javascript:1) !\\[y\\](z)"],
    ["a ~~b~~ `c` *d* | e", "a \\~\\~b\\~\\~ \\`c\\` \\*d\\* \\| e"],
    ["line\n# heading", "line\\\\x0a\\# heading"],
  ])
    expect(markdownText(text), text).toBe(shown);
});

test("mentions in names of files, motors and columns are dead in the ticket and in the reply", async () => {
  const { diagnosis, ...rest } = source();
  const text = JSON.stringify(diagnosis)
    .replaceAll("roller-07", "@everyone")
    .replaceAll("UVW.", "https://evil.example UVW.");
  const { markdown, letter } = await makeReport({ ...rest, diagnosis: JSON.parse(text) });
  for (const ticket of [markdown, letter.markdown]) {
    expect(ticket).not.toMatch(/(^|[^\w])@\w/m);
    expect(ticket).not.toMatch(/https?:\/\//);
  }
});

test("the page carries the licences of all that is inside it", async () => {
  for (const page of [(await makeReport(source())).html, (await makeReport(hostileSource())).html]) {
    const notice = /<details class="licences">[\s\S]*?<\/details>/.exec(page)?.[0] ?? "";
    // BSD 3-Clause and the SIL Open Font License ask for their text with every copy.
    for (const name of ["vega ", "vega-lite ", "vega-embed ", "d3-array ", "@fontsource/source-sans-3 "])
      expect(notice, name).toContain(name);
    expect(notice).toContain("Redistributions in binary form must reproduce the above copyright");
    expect(notice).toMatch(/SIL OPEN FONT LICENSE/i);
    expect(notice).not.toContain("its package brings no text");
  }
});
