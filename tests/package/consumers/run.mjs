// An ES module as its user writes it.
import { cutTrials, diagnose, readRecordings } from "shaftwise";
import * as danfo from "shaftwise/danfo";
import { fitLeastSquares } from "shaftwise/numeric";
import manifest from "shaftwise/package.json" with { type: "json" };

const { recordings, problems } = await readRecordings([process.argv[2]]);
const inputs = recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials }));
const { orderings } = diagnose(inputs, { problems });
const usable = orderings.filter((order) => order.usable).map((order) => order.ordering);
console.log(JSON.stringify({ version: manifest.version, usable, danfo: Object.keys(danfo), rooms: typeof fitLeastSquares }));
