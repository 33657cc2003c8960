import { numberText, unitText } from "../../units/forPeople.js";
import { type StudyConstant, unitOfConstant } from "../pipeline/studyConstants.js";
import { medianOf } from "./sample.js";

/** From so many times what motors have, an upper limit is more likely in another unit (a thousand times) than meant;
 * choice, no source: friction may well be let grow tenfold. */
const slip = 30;

/**
 * Why limits of a constant are hardly meant as they stand: all motors lie beyond one, or one is so far away that no
 * motor could ever reach it. Undefined where nothing speaks against them. A lower limit far below all motors is nothing
 * odd (zero, "must be positive").
 *
 * @param values of the motors, in the study's unit
 * @example
 * doubtOfLimits("kv", [31, 32, 33], { lower: 1e9 }); // => "all 3 motors lie below the lower limit ..."
 */
export function doubtOfLimits(
  constant: StudyConstant,
  values: readonly number[],
  { lower, upper }: { readonly lower?: number; readonly upper?: number },
): string | undefined {
  if (values.length === 0) return undefined;
  const unit = unitText(unitOfConstant(constant));
  const middle = medianOf(values);
  const have = `they have ${numberText(middle)} ${unit} in the middle`;
  const check = `; limits are in ${unit}: check the file`;
  const all = values.length === 1 ? "the motor lies" : `all ${values.length} motors lie`;
  const said = (side: string, limit: number) => `the ${side} limit ${numberText(limit)} ${unit}`;
  if (lower !== undefined && values.every((v) => v < lower))
    return `${all} below ${said("lower", lower)}; ${have}${check}`;
  if (upper !== undefined && values.every((v) => v > upper))
    return `${all} above ${said("upper", upper)}; ${have}${check}`;
  if (upper !== undefined && upper > slip * Math.max(...values.map(Math.abs)))
    return `no motor comes near ${said("upper", upper)}; ${have}${check}`;
  return undefined;
}
