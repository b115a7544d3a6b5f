// Cell averages of one filtered channel by DuckDB, an independent judge:
//   node cells.mjs LOG.csv [REPEATS]
// prints JSON: the least wall time in seconds, and the cells.
import { DuckDBInstance } from '@duckdb/node-api'

const [log, repeats = '3'] = process.argv.slice(2)
const speeds = Array.from({ length: 20 }, (_, i) => 700 + 320 * i)
const pressures = Array.from({ length: 16 }, (_, i) => 20 + 5 * i)
const db = await DuckDBInstance.create(':memory:', { threads: '2' })
const con = await db.connect()
// The nearest breakpoint of an even axis; halfway goes to the higher one.
const nearest = (column, axis) => {
  const step = axis[1] - axis[0]
  return `least(greatest(cast(floor((${column} - ${axis[0]}) / ${step} + 0.5) as int), 0), ${axis.length - 1})`
}
const sql = `select ${nearest('"MAP (kPa)"', pressures)} r, ${nearest('"Engine speed (rpm)"', speeds)} c,
  count(*)::double n, avg("STFT B1 (%)") mean, stddev_samp("STFT B1 (%)") sd, min("STFT B1 (%)") low, max("STFT B1 (%)") high
  from read_csv('${log}', header = true, auto_detect = true) where "ECT (degC)" >= 70 group by all order by 1, 2`
let best = Infinity, rows
for (let i = 0; i < Number(repeats); i++) {
  const start = performance.now()
  rows = await (await con.runAndReadAll(sql)).getRows()
  best = Math.min(best, (performance.now() - start) / 1000)
}
console.log(JSON.stringify({ seconds: best, cells: rows }))
