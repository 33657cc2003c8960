import { test } from "vitest";
import { scenario } from "./calibration/scenario.js";

test("x", () => {
  const s: any = scenario(7200126);
  console.log(Object.keys(s));
});
