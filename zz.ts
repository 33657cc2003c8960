import { readRecordings } from "./lib/recording/readRecordings.js";
const r:any = await (readRecordings as any)([process.argv[2]]);
for (const x of (r.recordings ?? r)) { const rec = x.recording ?? x; console.log(Object.keys(rec.channels), Object.keys(rec.unscaled ?? {}), Object.keys(rec.open ?? {}), rec.clock); for (const u of rec.understanding ?? []) console.log(u.column, u.role, u.unit, u.probability?.toFixed(2), JSON.stringify(u.runnerUp ?? null)); console.log((x.trials??[]).map((t:any)=>`${t.kind} ${t.start} ${t.end}`)); }
