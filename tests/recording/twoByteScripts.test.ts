import { describe, expect, test } from "vitest";
import { splitHeading } from "../../lib/recording/columns/unitText.js";
import { findEncoding } from "../../lib/recording/formats/textEncoding.js";

// Bytes after the code charts of GB 18030 (from the decoder of the WHATWG Encoding Standard, run backwards below).
const table = (encoding: string): Map<string, [number, number]> => {
  const decoder = new TextDecoder(encoding, { fatal: true });
  const out = new Map<string, [number, number]>();
  for (let a = 0xa1; a < 0xff; a += 1)
    for (let b = 0xa1; b < 0xff; b += 1) {
      try {
        out.set(decoder.decode(Uint8Array.of(a, b)), [a, b]);
      } catch {
        // No character stands there.
      }
    }
  return out;
};

const encoded = (text: string, encoding: string): Uint8Array => {
  const known = table(encoding);
  return Uint8Array.from([...text].flatMap((c) => known.get(c) ?? [c.charCodeAt(0)]));
};

describe("the encoding of headings beyond ASCII", () => {
  test.each([
    ["gb18030", "采样点,位置指令(脉冲),位置反馈(脉冲),转矩(%)\n"],
    ["gb18030", "周期,伺服给定转速,伺服反馈转速\n"],
    ["euc-kr", "시간,속도 지령,실제 속도,전류\n"],
  ] as const)("%s", (encoding, heading) => {
    expect(findEncoding(encoded(`${heading}1,2,3\n`, encoding)).encoding).toBe(encoding);
  });

  test.each([
    ["windows-1252", "Größe,Weggröße,Maß,Spitzenmaß\n"],
    ["windows-1252", "température,vitesse demandée,débit\n"],
  ] as const)("%s stays what it is", (encoding, heading) => {
    const bytes = Uint8Array.from([...heading].map((c) => c.charCodeAt(0)));
    expect(findEncoding(bytes).encoding).toBe(encoding);
  });

  test("Cyrillic words of even lengths are no pairs", () => {
    const decoder = new TextDecoder("windows-1251");
    const code = new Map(
      Array.from({ length: 128 }, (_, k) => [decoder.decode(Uint8Array.of(128 + k)), 128 + k]),
    );
    const bytes = Uint8Array.from(
      [..."Скорость,Ток двигателя,Угол\n"].map((c) => code.get(c) ?? c.charCodeAt(0)),
    );
    expect(findEncoding(bytes).encoding).toBe("windows-1251");
  });
});

test.each([
  ["给定rpm", "{rev}/min"],
  ["时间ms", "ms"],
  ["角度deg", "deg"],
  ["전류mA", "mA"],
])("a unit right behind another script: %s", (heading, code) => {
  expect(splitHeading(heading).unit?.code).toBe(code);
});
