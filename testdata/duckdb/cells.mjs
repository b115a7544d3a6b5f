// Cell averages of one filtered channel by DuckDB, an independent judge:
//   node cells.mjs regular|job LOG.csv [REPEATS]
// prints JSON: the least wall and processor time in seconds, and the cells.
import { DuckDBInstance } from '@duckdb/node-api'

const [kind, log, repeats = '3'] = process.argv.slice(2)
const speeds = Array.from({ length: 20 }, (_, i) => 700 + 320 * i)
const pressures = Array.from({ length: 16 }, (_, i) => 20 + 5 * i)
const db = await DuckDBInstance.create(':memory:', { threads: '2' })
const con = await db.connect()
// The nearest breakpoint of an even axis; halfway goes to the higher one.
const nearest = (column, axis) => {
  const step = axis[1] - axis[0]
  return `least(greatest(cast(floor((${column} - ${axis[0]}) / ${step} + 0.5) as int), 0), ${axis.length - 1})`
}
const [value, where] = {
  regular: ['"STFT B1 (%)"', '"ECT (degC)" >= 70'],
  job: ['((1 + "STFT B1 (%)" / 100) * (1 + "LTFT B1 (%)" / 100) - 1) * 100', '"Fuel status" = 2 and "ECT (degC)" >= 70']
}[kind]
const sql = `select ${nearest('"MAP (kPa)"', pressures)} r, ${nearest('"Engine speed (rpm)"', speeds)} c,
  count(v)::double n, avg(v) mean, stddev_samp(v) sd, min(v) low, max(v) high
  from (select *, ${value} v from read_csv('${log}', header = true, auto_detect = true)
    where ${where}) where v is not null and "MAP (kPa)" is not null and "Engine speed (rpm)" is not null group by all order by 1, 2`
let best = Infinity, cpu = Infinity, rows
for (let i = 0; i < Number(repeats); i++) {
  const start = performance.now(), used = process.cpuUsage()
  rows = await (await con.runAndReadAll(sql)).getRows()
  best = Math.min(best, (performance.now() - start) / 1000)
  const { user, system } = process.cpuUsage(used)
  cpu = Math.min(cpu, (user + system) / 1e6)
}
console.log(JSON.stringify({ seconds: best, cpu, cells: rows }))
