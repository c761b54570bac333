// Times DuckDB reading a capture table into an aggregate of every column: node duckdb.mjs FILE
import { DuckDBInstance } from "@duckdb/node-api";
import { statSync } from "node:fs";

const file = process.argv[2];
const instance = await DuckDBInstance.create(":memory:", { threads: "2" });
const db = await instance.connect();
const quoted = file.replaceAll("'", "''");
const begin = process.hrtime.bigint();
const r = await db.runAndReadAll(`select count(*), max(time), ` + ["crank", "cam", "spark", "mark"].map((c) => `min(${c}), max(${c}), avg(${c})`).join(", ") + ` from read_csv('${quoted}')`);
const s = Number(process.hrtime.bigint() - begin) / 1e9;
console.log(`${r.getRows()[0][0]} rows, ${s.toFixed(3)} s, ${(statSync(file).size / 1e6 / s).toFixed(0)} MB/s`);
