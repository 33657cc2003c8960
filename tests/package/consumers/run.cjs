// CommonJS as its user writes it: Node.js loads ES modules by require() from 20.19 on.
const { cutTrials, diagnose, readRecordings } = require("shaftwise");
const danfo = require("shaftwise/danfo");
const { fitLeastSquares } = require("shaftwise/numeric");
const manifest = require("shaftwise/package.json");

readRecordings([process.argv[2]]).then(({ recordings, problems }) => {
  const inputs = recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials }));
  const { orderings } = diagnose(inputs, { problems });
  const usable = orderings.filter((order) => order.usable).map((order) => order.ordering);
  console.log(JSON.stringify({ version: manifest.version, usable, danfo: Object.keys(danfo), rooms: typeof fitLeastSquares }));
});
