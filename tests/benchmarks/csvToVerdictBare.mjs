/** The bare column engine reading the columns that a diagnosis uses, file by file, fetched: the floor of `csvToVerdict.ts`. */
import { readdirSync } from "node:fs";
import { join } from "node:path";
import { DuckDBInstance } from "@duckdb/node-api";

const connection = await (await DuckDBInstance.create(":memory:")).connect();
let files = 0;
for (const folder of process.argv.slice(2)) {
  for (const name of readdirSync(folder)) {
    if (!name.endsWith(".csv")) continue;
    const result = await connection.run(
      `SELECT "time [s]", "i_cmd [A]", "i_meas [A]", "speed [rev/min]", "position [counts]", "speed_cmd [rev/min]", "bus [V]"
       FROM read_csv('${join(folder, name)}', header = true)`,
    );
    let rows = 0;
    for (const chunk of await result.fetchAllChunks()) rows += chunk.rowCount;
    if (rows !== 50_000) throw new Error(`${rows} rows`);
    files += 1;
  }
}
console.log(`${files} files`);
