import { expect, test } from "vitest";
import { joinedWords } from "../../lib/recording/formats/joinedWords.js";

test("names of two words are told among words parted by blanks", () => {
  expect(joinedWords(["t_s", "Control", "error", "w_ref_rad/s", "w_rad/s"], 4)).toEqual([
    "t_s",
    "Control error",
    "w_ref_rad/s",
    "w_rad/s",
  ]);
  expect(joinedWords(["t", "[s]", "Speed", "[rad/s]", "i", "[A]"], 3)).toEqual([
    "t [s]",
    "Speed [rad/s]",
    "i [A]",
  ]);
});

test("a sentence names no columns, nor do words that can be shared out in two ways", () => {
  expect(joinedWords(["Motor", "test", "bench", "data"], 3)).toBeUndefined();
  expect(joinedWords(["t_s", "motor", "speed", "error"], 3)).toBeUndefined();
  expect(joinedWords(["t_s", "i_A"], 2)).toBeUndefined();
});
